import type { Locator, Page } from 'playwright-core';
import { afterAll, afterEach, beforeAll, describe, expect, it } from 'vitest';
import { settled, World } from './world';

const world = new World();
let job = '';
beforeAll(async () => {
  await world.start();
  job = await world.job('example');
});
afterEach(() => world.leave());
afterAll(() => world.stop());

const whys = (inside: Page | Locator) => inside.getByRole('button', { name: /^Why / });

/** Opens a "why?", reads it, closes it. */
async function read(page: Page, button: Locator): Promise<string> {
  await button.click();
  const dialog = page.getByRole('dialog');
  await dialog
    .getByText(/^Source: ./)
    .first()
    .waitFor();
  const said = await dialog.innerText();
  await dialog.getByRole('button', { name: 'Close' }).click();
  await dialog.waitFor({ state: 'detached' });
  return said;
}

/** Every number that a text gives in a unit. */
const numbers = (text: string, unit: string) =>
  [...text.matchAll(new RegExp(`(-?[\\d.]+) ${unit}(?![a-zA-Z])`, 'g'))].map((m) => Number(m[1]));

async function visit(at: string): Promise<Page> {
  const page = await world.person('Ada');
  await world.open(page, job, at);
  await settled(page);
  return page;
}

describe('every figure answers "why?"', () => {
  it('readings to expect, with what makes them spread', async () => {
    const page = await visit('visits');
    const table = page.getByRole('region', { name: 'What line A reads' });
    await table.getByRole('row').nth(1).waitFor();
    const cells = table.locator('tbody td.num');
    expect(await cells.count()).toBeGreaterThan(20);
    expect(await whys(table).count()).toBe(await cells.count());
    const shown = await cells.first().innerText();
    const [ohm, low, high] = [...shown.matchAll(/[\d.]+/g)].map((m) => Number(m[0])) as [
      number,
      number,
      number,
    ];
    const said = await read(page, whys(table).first());
    // The interval by hand: ln(ohm + 0.2) is normal with the deviation that the working ends in.
    const deviation = Number(/that makes ([\d.]+) %/.exec(said)![1]) / 100;
    const bound = (sign: number) => (ohm + 0.2) * Math.exp(sign * 1.959964 * deviation) - 0.2;
    expect(bound(-1)).toBeCloseTo(low, 0);
    expect(bound(1)).toBeCloseTo(high, 0);
    // And that deviation from its causes, as squares add.
    const causes = /differ from it by: (.*)\./.exec(said)![1]!;
    const parts = [...causes.matchAll(/ ([\d.]+) %(?=,| and |$)/g)].map((m) => Number(m[1]) / 100);
    expect(parts.length).toBeGreaterThan(1);
    expect(Math.abs(Math.hypot(...parts) - deviation)).toBeLessThan(0.001);
    // From a joint the rest of the line reads otherwise, and has a working of its own.
    expect(await read(page, whys(table).nth(8))).toMatch(/looking away from the rack/);
    expect(world.complaints).toEqual([]);
  });

  it('likelihoods of faults, each explanation by Bayes', async () => {
    const page = await visit('visits');
    await page.getByRole('button', { name: 'What explains line A?' }).click();
    const found = page.getByRole('region', { name: 'What explains line A' });
    await found.getByRole('listitem').first().waitFor();
    const answers = found.getByRole('listitem');
    expect(await whys(found).count()).toBe(await answers.count());
    const said = await read(page, whys(found).first());
    expect(said).toMatch(/Before any reading it was [\d.]+ % likely/);
    expect(said).toMatch(/a meter would show [\d.]+ ohm with it; it showed 6\.40 ohm/);
    // What the explanations have one by one is what the answer has.
    const each = [
      ...said.matchAll(/it is ([\d.]+) % likely now/g),
      ...said.matchAll(/together they have ([\d.]+) %/g),
    ];
    const sum = each.reduce((all, m) => all + Number(m[1]), 0);
    const told = Number(/([\d.]+) %/.exec(await answers.first().locator('b').innerText())![1]);
    expect(Math.abs(sum - told)).toBeLessThan(2);
  });

  it('bass, band by band, nulls and settings', async () => {
    const page = await visit('sound');
    await page.getByRole('tab', { name: 'Bass' }).click();
    const table = page.getByRole('region', { name: 'Bass by band' });
    await table.getByRole('row').nth(1).waitFor();
    expect(await whys(table).count()).toBe(await table.locator('tbody tr').count());
    const said = await read(page, whys(table).nth(3));
    // Two levels by energy, by hand.
    const [one, two, energy] = numbers(/alone, each gives.*?added as waves/s.exec(said)![0], 'dB') as [
      number,
      number,
      number,
    ];
    expect(10 * Math.log10(10 ** (one / 10) + 10 ** (two / 10))).toBeCloseTo(energy, 0);
    const nulls = page.getByRole('button', { name: /^Why .* below the louder alone\?$/ });
    const [first, second, together, below] = numbers(
      /alone:.*?the louder/s.exec(await read(page, nulls.first()))![0],
      'dB',
    ) as [number, number, number, number];
    expect(Math.max(first, second) - together).toBeCloseTo(below, 0);
    expect(await read(page, page.getByRole('button', { name: /^Why setting 1/ }))).toMatch(/were tried/);
  });

  it('what each loudspeaker brings to a place', async () => {
    const page = await visit('sound');
    await page.getByRole('tab', { name: 'At a place' }).click();
    await page.getByRole('button', { name: 'Middle of Lawn' }).click();
    const rows = page.getByRole('region', { name: 'Who contributes' });
    await rows.getByRole('group').first().waitFor();
    expect(await whys(rows).count()).toBe(await rows.locator('summary').count());
    const said = await read(page, whys(rows).first());
    const [, metres, less] = /: ([\d.]+) m, so (-?[\d.]+) dB less than at 1 m/.exec(said)!;
    expect(20 * Math.log10(Number(metres))).toBeCloseTo(Number(less), 1);
    const [, ms, way, speed, delay] = /after ([\d.]+) ms: ([\d.]+) m at ([\d.]+) m\/s, and ([\d.]+) ms/.exec(
      said,
    )!;
    expect((1000 * Number(way)) / Number(speed) + Number(delay)).toBeCloseTo(Number(ms), 0);
  });

  it('readings and likelihoods on the phone, from what was taken along', async () => {
    const page = await world.person('Ada', { viewport: { width: 360, height: 740 } });
    await page.goto(`${world.base}/#along/${job}/measure`);
    const good = page.getByRole('button', { name: /^Why good/ });
    await good.waitFor();
    expect(await read(page, good)).toMatch(/48\.6 m of cable.*95 of 100 read 4\.66 to 9\.27 ohm/s);
    await page.getByLabel('The meter reads, ohm').fill('3.1');
    await page.getByRole('button', { name: 'Enter', exact: true }).click();
    const ranked = page.locator('[data-ranking="A"]');
    await ranked.getByRole('listitem').first().waitFor();
    // Each explanation has its working: of those that stand together, each of them.
    expect(await whys(ranked).count()).toBe(await ranked.locator('li:not(:has(li))').count());
    expect(await read(page, whys(ranked).first())).toMatch(/it showed 3\.10 ohm.*it is [\d.]+ % likely now/s);
    expect(world.complaints).toEqual([]);
  });

  it.each(['sound', 'cable', 'processing'])(
    'on the page %s, every one that is there has a source',
    async (at) => {
      const page = await visit(at);
      await whys(page).first().waitFor();
      const all = await whys(page).count();
      for (let i = 0; i < all; i++) expect((await read(page, whys(page).nth(i))).length).toBeGreaterThan(40);
      expect(world.complaints).toEqual([]);
    },
  );
});
