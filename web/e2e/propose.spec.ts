import type { Page } from 'playwright-core';
import { afterAll, afterEach, beforeAll, describe, expect, it } from 'vitest';
import { World } from './world';

const world = new World();
beforeAll(() => world.start());
afterEach(() => world.leave());
afterAll(() => world.stop());

/** How long a proposal for a small garden may take on a busy machine. */
const PATIENCE_MS = 150_000;

interface Job {
  revision: number;
  document: {
    brief?: Record<string, unknown>;
    loudspeakers?: Record<string, { position: [number, number]; pinned?: boolean; model: string }>;
    lines?: Record<string, { runs?: Record<string, unknown> }>;
  };
}

async function edit(job: string, patch: { op: string; path: string; value?: unknown }[]) {
  const { revision } = await world.read<Job>(`/jobs/${job}`);
  const answer = await fetch(`${world.base}/api/jobs/${job}/edits`, {
    method: 'POST',
    headers: { 'content-type': 'application/json' },
    body: JSON.stringify({
      edit_id: crypto.randomUUID(),
      base_revision: revision,
      patch,
      who: 'Ben',
      note: 'Prepare',
    }),
  });
  expect(answer.status, await answer.text()).toBe(200);
}

/** A lawn of 16 m by 6 m between two beds. */
async function small(target = '66 dBA'): Promise<string> {
  const job = await world.job('empty', 'Small lawn');
  const bed = (south: number) => ({
    kind: 'bed',
    outline: [
      [4, south],
      [24, south],
      [24, south + 2],
      [4, south + 2],
    ],
  });
  const lawn = [
    [6, 6],
    [22, 6],
    [22, 12],
    [6, 12],
  ];
  const outline = [
    [2, 2],
    [26, 2],
    [26, 18],
    [2, 18],
  ];
  await edit(job, [
    { op: 'add', path: '/programmes', value: { music: { name: 'Music' } } },
    { op: 'add', path: '/site', value: { outline } },
    { op: 'add', path: '/surfaces', value: { south: bed(4), north: bed(12) } },
    { op: 'add', path: '/areas', value: { lawn: { name: 'Lawn', outline: lawn, target } } },
    { op: 'add', path: '/racks', value: { R1: { position: [3, 9] } } },
  ]);
  return job;
}

/** Asks for these offers and no others. */
async function want(page: Page, offers: string[]) {
  const all = page.getByRole('group', { name: 'Offers' }).getByRole('checkbox');
  expect(await all.count()).toBe(5);
  for (const box of await all.all()) await box.setChecked(false);
  for (const offer of offers) await page.getByRole('checkbox', { name: offer, exact: true }).check();
}

/** Asks and waits for the cards; every sign of life that was shown meanwhile. */
async function propose(page: Page, offers: string[]): Promise<string[]> {
  await page.getByLabel('Time').selectOption('5');
  await want(page, offers);
  await page.evaluate(() => {
    const seen: string[] = [];
    Object.assign(globalThis, { seen });
    new MutationObserver(() => {
      const text = document.querySelector<HTMLElement>('[data-progress]')?.innerText;
      if (text) seen.push(text.replace(/\s+/g, ' '));
    }).observe(document.body, { subtree: true, childList: true, characterData: true });
  });
  await page.getByRole('button', { name: /^(Propose|Ask again)$/ }).click();
  await page.getByRole('region', { name: 'Option 1' }).waitFor({ timeout: PATIENCE_MS });
  return page.evaluate(() => (globalThis as unknown as { seen: string[] }).seen);
}

async function openPropose(page: Page, job: string) {
  await world.open(page, job, 'sound');
  await page.getByRole('tab', { name: 'Propose' }).click();
}

describe('a proposed design', () => {
  it('is watched, compared, accepted, pinned and asked for again', async () => {
    // So loud that evenness costs something.
    const job = await small('80 dBA');
    const page = await world.person('Ada');
    await openPropose(page, job);
    const signs = await propose(page, ['Least cost', 'Balanced', 'Most even']);
    const amounts = signs.map((s) =>
      /^[^:–]+(?:: best so far ([A-Z]+\s[\d\s]+)(?:; its loudspeakers cost ([A-Z]+\s[\d\s]+) at least, whatever is chosen)?)?\.$/.exec(
        s.trim(),
      ),
    );
    expect(
      amounts.every(Boolean),
      signs.find((_, i) => !amounts[i]),
    ).toBe(true);
    const money = (text: string) => Number(text.replace(/\D/g, ''));
    const bounds = amounts.map((a) => a![2]).filter((b) => b !== undefined);
    expect(bounds.length).toBeGreaterThan(0);
    // What was found stays found.
    const bests = amounts.map((a) => a![1]);
    expect(bests.slice(bests.findIndex(Boolean)).every(Boolean)).toBe(true);
    // What the finished design costs is not below what was proven.
    const first = await page.getByRole('region', { name: 'Option 1' }).getByRole('heading').innerText();
    const cost = money(/EUR [\d\u00a0]+/.exec(first)![0]);
    for (const bound of bounds) expect(money(bound)).toBeLessThanOrEqual(cost);

    // Two side by side, each figure with its working.
    for (const n of [1, 2]) {
      await page
        .getByRole('region', { name: `Option ${n}` })
        .getByRole('button', { name: 'Compare' })
        .click();
    }
    const table = page.getByRole('region', { name: 'Two options side by side' }).getByRole('table');
    for (const row of ['Price with tax', 'Loudspeakers', 'Spread, worst area', 'Cable']) {
      await table.getByText(row, { exact: false }).first().waitFor();
    }
    await page.getByRole('region', { name: 'Option 1' }).getByRole('button', { name: /^Why/ }).click();
    const why = page.getByRole('dialog');
    expect(await why.innerText()).toMatch(/before tax.*Source:/s);
    await why.getByRole('button', { name: 'Close' }).click();

    // Shown on the plan it is not made; accepted it is.
    await page
      .getByRole('region', { name: 'Option 1' })
      .getByRole('button', { name: 'Show on the plan' })
      .click();
    await page.locator('[data-table="loudspeakers"]').first().waitFor({ state: 'attached' });
    expect((await world.read<Job>(`/jobs/${job}`)).document.loudspeakers).toBeUndefined();
    await page.getByRole('region', { name: 'Option 1' }).getByRole('button', { name: 'Accept' }).click();
    await page.getByRole('button', { name: /^Undo: Accept a proposal/ }).waitFor();
    const made = (await world.read<Job>(`/jobs/${job}`)).document;
    const placed = Object.entries(made.loudspeakers!);
    expect(placed.length).toBeGreaterThan(1);
    expect(Object.values(made.lines!).every((l) => Object.keys(l.runs ?? {}).length > 0)).toBe(true);

    // What is pinned stays where it is.
    await page.getByRole('button', { name: 'Pin all that stand' }).click();
    await page.getByText(`${placed.length} pinned`).waitFor();
    await propose(page, ['Least cost']);
    const card = page.getByRole('region', { name: 'Option 1' });
    if (!(await card.getByText('The job has this design already.').isVisible())) {
      await card.getByRole('button', { name: 'Accept' }).click();
      await page
        .locator('header')
        .getByRole('button', { name: /^Undo: Accept a proposal/ })
        .waitFor();
    }
    const again = (await world.read<Job>(`/jobs/${job}`)).document.loudspeakers!;
    for (const [id, l] of placed) expect(again[id]?.position).toEqual(l.position);
    // They meet the brief, so none is added.
    expect(Object.keys(again).sort()).toEqual(placed.map(([id]) => id).sort());
    expect(world.complaints).toEqual([]);
  });

  it('is stopped when nobody wants it any more', async () => {
    const job = await small();
    const page = await world.person('Ada');
    await openPropose(page, job);
    await page.getByLabel('Time').selectOption('60');
    await page.getByRole('button', { name: 'Propose', exact: true }).click();
    await page.getByRole('button', { name: 'Stop', exact: true }).click();
    await page.getByText('Stopped. Nothing was changed.').waitFor();
    expect((await world.read<Job>(`/jobs/${job}`)).document.loudspeakers).toBeUndefined();
    expect(world.complaints).toEqual([]);
  });

  it('that cannot be says why in plain words and offers the nearest brief', async () => {
    const job = await small();
    await edit(job, [{ op: 'add', path: '/brief', value: { budget: 500 } }]);
    const page = await world.person('Ada');
    await openPropose(page, job);
    await page.getByLabel('Time').selectOption('5');
    await want(page, ['Least cost']);
    await page.getByRole('button', { name: 'Propose', exact: true }).click();
    const told = page.locator('[data-failure]');
    await told.waitFor({ timeout: PATIENCE_MS });
    expect(await told.innerText()).toMatch(/500/);
    await page.getByRole('region', { name: 'Option 1' }).getByText('Nearest').waitFor();
    await told.getByRole('button', { name: 'Change it so' }).first().click();
    await page.getByRole('button', { name: 'Undo: Change the brief so that it can be met' }).waitFor();
    expect((await world.read<Job>(`/jobs/${job}`)).document.brief!.budget).not.toBe(500);
    expect(world.complaints).toEqual([]);
  });

  it('asks for what is missing where nothing is drawn', async () => {
    const job = await world.job('empty', 'Bare');
    const page = await world.person('Ada');
    await openPropose(page, job);
    await page.getByRole('button', { name: 'Propose', exact: true }).click();
    await page.getByRole('tabpanel').getByRole('alert').waitFor({ timeout: PATIENCE_MS });
    expect(await page.getByRole('tabpanel').getByRole('alert').innerText()).toMatch(/area/);
    expect(world.complaints).toEqual([]);
  });
});
