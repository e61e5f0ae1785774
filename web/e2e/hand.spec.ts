/** The plan under the hand, with motion as people have it: moved, drawn on, taken from, and told what goes wrong. */
import type { Page } from 'playwright-core';
import { afterAll, afterEach, beforeAll, describe, expect, it } from 'vitest';
import { onScreen, settled, still, World } from './world';

const world = new World();
beforeAll(() => world.start());
afterEach(() => world.leave());
afterAll(() => world.stop());

interface Document {
  site?: { outline?: unknown };
  racks?: Record<string, unknown>;
  areas?: Record<string, { outline: [number, number][] }>;
  amplifiers?: Record<string, unknown>;
  channels?: Record<string, unknown>;
  loudspeakers?: Record<string, { line?: string }>;
  lines?: Record<string, { runs: Record<string, { from: string; to: string }> }>;
}
const documentOf = async (job: string) => (await world.read<{ document: Document }>(`/jobs/${job}`)).document;
const plan = (page: Page) => page.locator('.plan[role="application"]');
const press = (page: Page, name: string) => page.getByRole('button', { name, exact: true }).click();
const saved = (page: Page) => page.locator('header').getByText('saved').waitFor();

async function clickPlan(page: Page, x: number, y: number) {
  const at = await onScreen(page, x, y);
  await page.mouse.click(at.x, at.y);
}

describe('with motion, the plan', () => {
  it.each(['site', 'sound', 'cable'])('goes where its buttons and keys say, on %s', async (at) => {
    const job = await world.job('example');
    const page = await world.person('Ada');
    await world.open(page, job, at);
    // The bars take their final height with their letters; the whole is fitted between them.
    await page.evaluate(() => document.fonts.ready);
    const opening = await still(page);
    await press(page, 'Show the whole site');
    const whole = await still(page);
    // It opens on the whole, but for what the bars grew by.
    expect(Math.abs(opening.k / whole.k - 1)).toBeLessThan(0.02);
    await press(page, 'Closer');
    expect((await still(page)).k).toBeCloseTo(1.4 * whole.k, 6);
    // Two quick presses count as two.
    await press(page, 'Farther');
    await press(page, 'Farther');
    expect((await still(page)).k).toBeCloseTo(whole.k / 1.4, 6);
    await press(page, 'Show the whole site');
    const again = await still(page);
    for (const key of ['k', 'x', 'y'] as const) expect(again[key]).toBeCloseTo(whole[key], 4);
    await plan(page).focus();
    await page.keyboard.press('+');
    expect((await still(page)).k).toBeCloseTo(1.3 * whole.k, 6);
    await page.keyboard.press('-');
    await page.keyboard.press('-');
    expect((await still(page)).k).toBeCloseTo(whole.k / 1.3, 6);
    await page.keyboard.press('0');
    expect((await still(page)).k).toBeCloseTo(whole.k, 6);
    expect(world.complaints).toEqual([]);
  });

  it('glides: there are steps between', async () => {
    const job = await world.job('example');
    const page = await world.person('Ada');
    await world.open(page, job, 'site');
    await still(page);
    const steps = await page.evaluate(async () => {
      const g = document.querySelector('.plan svg g[transform^="matrix"]')!;
      const seen = new Set<string>();
      new MutationObserver(() => seen.add(g.getAttribute('transform')!)).observe(g, { attributes: true });
      document.querySelector<HTMLElement>('[aria-label="Closer"]')!.click();
      await new Promise((over) => setTimeout(over, 600));
      return seen.size;
    });
    expect(steps).toBeGreaterThan(2);
  });

  it('brings what is chosen in the list into sight, and stays where a hand leads it', async () => {
    const job = await world.job('example');
    const page = await world.person('Ada');
    await world.open(page, job, 'site');
    await still(page);
    for (let i = 0; i < 5; i++) await press(page, 'Closer');
    await still(page);
    await page.getByText(/^Racks/).click();
    await page.getByRole('button', { name: /^R1/ }).click();
    const { x, y, k } = await still(page);
    const { position } = (await documentOf(job)).racks!.R1 as { position: [number, number] };
    const box = (await plan(page).boundingBox())!;
    expect(x + k * position[0]).toBeCloseTo(box.width / 2, 0);
    expect(y - k * position[1]).toBeCloseTo(box.height / 2, 0);
    // Led away by hand, out of sight, it is not pulled back.
    const edge = { x: box.x + 40, y: box.y + box.height - 120 };
    await page.mouse.move(edge.x, edge.y);
    await page.mouse.down();
    await page.mouse.move(edge.x + box.width - 80, edge.y, { steps: 6 });
    await page.mouse.up();
    expect((await still(page)).x).toBeCloseTo(x + box.width - 80, 0);
    expect(world.complaints).toEqual([]);
  });
});

describe('taking out', () => {
  it('a loudspeaker by the key: asked about its reading, gone, told, brought back by the message', async () => {
    const job = await world.job('example');
    const page = await world.person('Ada');
    await world.open(page, job, 'sound');
    await still(page);
    const [x, y] = ((await documentOf(job)).loudspeakers!.L2 as unknown as { position: [number, number] })
      .position;
    await clickPlan(page, x, y);
    await page.getByRole('heading', { name: /^L2/ }).waitFor();
    await page.keyboard.press('Delete');
    // Its line was read at handover: what becomes of the reading is told before it goes.
    await page.getByText('The reading of line A so far stays as it was judged.').waitFor();
    await page.getByRole('button', { name: 'Take it out' }).click();
    const message = page.getByRole('status').filter({ hasText: 'Took out L2.' });
    await message.waitFor();
    await saved(page);
    const gone = await documentOf(job);
    expect(gone.loudspeakers!.L2).toBeUndefined();
    for (const { runs } of Object.values(gone.lines!))
      expect(Object.values(runs).flatMap((r) => [r.from, r.to])).not.toContain('L2');
    await message.getByRole('button', { name: 'Undo' }).click();
    await page.getByRole('button', { name: 'Redo: Take out L2' }).waitFor();
    expect((await documentOf(job)).loudspeakers!.L2).toBeDefined();
    expect(world.complaints).toEqual([]);
  });

  it('an area by the button in its panel, and the property by Backspace', async () => {
    const job = await world.job('example');
    const page = await world.person('Ada');
    await world.open(page, job, 'site');
    await page.getByRole('button', { name: /^Fire circle/ }).click();
    await press(page, 'Take out Fire circle');
    await page.getByText('Took out Fire circle.').waitFor();
    expect((await documentOf(job)).areas!.fire).toBeUndefined();
    await press(page, 'Outline of the property');
    await page.keyboard.press('Backspace');
    await page.getByText('Took out the outline of the property.').waitFor();
    expect((await documentOf(job)).site?.outline).toBeUndefined();
    expect(world.complaints).toEqual([]);
  });

  it('a rack in use: what hangs on it is listed, stays when it is left, and goes along when it is meant', async () => {
    const job = await world.job('example');
    const page = await world.person('Ada');
    await world.open(page, job, 'site');
    await page.getByText(/^Racks/).click();
    await page.getByRole('button', { name: /^R1/ }).click();
    await page.keyboard.press('Delete');
    const dialog = page.getByRole('dialog', { name: 'Take out rack R1?' });
    await dialog.waitFor();
    const before = await documentOf(job);
    const listed = await dialog.innerText();
    for (const id of Object.keys(before.amplifiers!)) expect(listed).toContain(`amplifier ${id}`);
    for (const id of Object.keys(before.channels!)) expect(listed).toContain(`channel ${id}`);
    await dialog.getByRole('button', { name: 'Leave it' }).click();
    expect(await documentOf(job)).toEqual(before);
    await press(page, 'Take out R1');
    await dialog.getByRole('button', { name: 'Take all of it out' }).click();
    await page.getByText('Took out R1.').waitFor();
    await saved(page);
    const after = await documentOf(job);
    expect(Object.keys(after.racks ?? {})).not.toContain('R1');
    expect(Object.keys(after.amplifiers ?? {})).toEqual([]);
    await page.getByRole('button', { name: 'Undo: Take out R1' }).click();
    await page.getByRole('button', { name: 'Redo: Take out R1' }).waitFor();
    expect(await documentOf(job)).toEqual(before);
    expect(world.complaints).toEqual([]);
  });

  it('the key in a field takes a letter, not the thing', async () => {
    const job = await world.job('example');
    const page = await world.person('Ada');
    await world.open(page, job, 'site');
    await page.getByRole('button', { name: /^Fire circle/ }).click();
    await page.getByLabel('Name', { exact: true }).focus();
    await page.keyboard.press('Backspace');
    await page.waitForTimeout(300);
    expect((await documentOf(job)).areas!.fire).toBeDefined();
  });
});

describe('an outline that crosses itself', () => {
  it('shows its crossing, refuses to end, keeps the draft and ends once a corner is dragged away', async () => {
    const job = await world.job('empty', 'Crossed');
    const page = await world.person('Ada');
    await world.open(page, job, 'site');
    await still(page);
    await page.getByRole('toolbar').getByRole('button', { name: 'Listening area', exact: true }).click();
    for (const [x, y] of [
      [4, 4],
      [14, 12],
      [14, 4],
      [4, 12],
    ] as const)
      await clickPlan(page, x, y);
    const crossed = page.locator('[data-crossed]');
    expect(await crossed.count()).toBe(2);
    await page.getByText('Side 1 and side 3 meet.').waitFor();
    await press(page, 'Finish');
    await page.getByRole('alert').filter({ hasText: 'an outline may not' }).waitFor();
    expect(await page.locator('[data-handle^="draft:"]').count()).toBe(4);
    expect((await documentOf(job)).areas).toBeUndefined();
    // Back by key, set anew, crossing again; then a corner is dragged to where nothing crosses.
    await page.keyboard.press('Backspace');
    expect(await page.locator('[data-handle^="draft:"]').count()).toBe(3);
    await clickPlan(page, 4, 12);
    const [from, to] = [await onScreen(page, 14, 12), await onScreen(page, 9, 1)];
    await page.mouse.move(from.x, from.y);
    await page.mouse.down();
    await page.mouse.move(to.x, to.y, { steps: 8 });
    await page.mouse.up();
    await page.mouse.move((await onScreen(page, 4, 9)).x, (await onScreen(page, 4, 9)).y);
    expect(await crossed.count()).toBe(0);
    await press(page, 'Finish');
    await page.getByRole('heading', { name: /^Listening area/ }).waitFor();
    const outline = Object.values((await documentOf(job)).areas!)[0]!.outline;
    expect(outline).toEqual([
      [4, 4],
      [9, 1],
      [14, 4],
      [4, 12],
    ]);
    expect(world.complaints).toEqual([]);
  });

  it('is told beside what it is about, over no tool', async () => {
    const job = await world.job('example');
    const page = await world.person('Ada');
    await world.open(page, job, 'site');
    await still(page);
    await page.getByRole('button', { name: /^Lawn/ }).first().click();
    const [corner, across] = [await onScreen(page, 23, 12.2), await onScreen(page, 5, 8)];
    await page.mouse.move(corner.x, corner.y);
    await page.mouse.down();
    await page.mouse.move(across.x, across.y, { steps: 6 });
    await page.mouse.up();
    const told = page.getByRole('region', { name: /^Lawn/ }).getByRole('alert');
    await told.waitFor();
    const alerts = await page.getByRole('alert').all();
    expect(alerts).toHaveLength(1);
    const a = (await told.boundingBox())!;
    for (const button of await page.locator('.plan button, header button, [role="toolbar"] button').all()) {
      const b = (await button.boundingBox())!;
      const apart =
        a.x >= b.x + b.width || b.x >= a.x + a.width || a.y >= b.y + b.height || b.y >= a.y + a.height;
      expect(apart, await button.innerText()).toBe(true);
    }
  });
});

describe('scroll bars', () => {
  it.each([
    [1440, 900],
    [1920, 1080],
  ])('stand one beside a part of the page, never two side by side, at %d by %d', async (width, height) => {
    const job = await world.job('example');
    const page = await world.person('Ada', { viewport: { width, height } });
    const open = async (at: string) => {
      await world.open(page, job, at);
      await settled(page);
    };
    const twice = () =>
      page.evaluate(() => {
        const scrolling = [document.documentElement, ...document.querySelectorAll('body *')].filter((e) => {
          const flow = getComputedStyle(e).overflowY;
          const scrolls = flow === 'auto' || flow === 'scroll' || e === document.documentElement;
          return scrolls && e.scrollHeight > e.clientHeight && e.clientHeight > 200;
        });
        const right = (e: Element) => e.getBoundingClientRect().right;
        return scrolling
          .filter((e) => scrolling.some((f) => f !== e && Math.abs(right(e) - right(f)) < 40))
          .map((e) => `${e.tagName} ${e.className}: ${e.scrollHeight} px in ${e.clientHeight} px`);
      });
    for (const at of ['brief', 'cable', 'processing', 'papers', 'visits']) {
      await open(at);
      expect(await twice(), at).toEqual([]);
    }
    await open('site');
    for (const list of await page.locator('.panel summary').all()) await list.click();
    expect(await twice(), 'site, every list open').toEqual([]);
    await page.getByRole('button', { name: /^Lawn/ }).first().click();
    expect(await twice(), 'site, an area').toEqual([]);
    await open('sound');
    for (const tab of ['Levels', 'Place', 'At a place', 'Bass', 'Propose']) {
      await page.getByRole('tab', { name: tab, exact: true }).click();
      await settled(page);
      expect(await twice(), `sound, ${tab}`).toEqual([]);
    }
  });
});
