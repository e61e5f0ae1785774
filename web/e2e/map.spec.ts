/** What the map says: the same colours as its legend, who hears it, what is wanted, and a picture to give away. */
import { readFileSync } from 'node:fs';
import type { Page } from 'playwright-core';
import { afterAll, afterEach, beforeAll, describe, expect, it } from 'vitest';
import { onScreen, settled, still, World } from './world';

const world = new World();
beforeAll(() => world.start());
afterEach(() => world.leave());
afterAll(() => world.stop());

/** A neighbour's window 30 m east of everything. */
const AWAY = [58, 10];
const withNeighbour = () =>
  world.exampleWith([
    {
      op: 'add',
      path: '/neighbours/away',
      value: { name: 'Mill house', points: [AWAY], day: '50 dBA', night: '40 dBA' },
    },
  ]);

/** Every colour the map is painted with, and how often; fully clear places apart. */
const colours = (page: Page) =>
  page.evaluate(() => {
    const canvas = document.querySelector<HTMLCanvasElement>('canvas.field')!;
    const { data } = canvas.getContext('2d')!.getImageData(0, 0, canvas.width, canvas.height);
    const found: Record<string, number> = {};
    for (let i = 0; i < data.length; i += 4) {
      if (data[i + 3] === 0) continue;
      const colour = `${data[i]} ${data[i + 1]} ${data[i + 2]} ${data[i + 3]}`;
      found[colour] = (found[colour] ?? 0) + 1;
    }
    return found;
  });
const legend = (page: Page) =>
  page
    .locator('.legend rect')
    .evaluateAll((all) => all.map((r) => r.getAttribute('fill')!.replace(/rgb\((.*)\)/, '$1')));

async function sound(page: Page, job: string) {
  await world.open(page, job, 'sound');
  await page.locator('.legend').waitFor();
  await settled(page);
  await still(page);
}

describe.each(['light', 'dark'] as const)('the map, %s', (colorScheme) => {
  it('is painted with the colours of its legend, opaque, the loudest farthest from the ground', async () => {
    const page = await world.person('Ada', { colorScheme });
    await sound(page, await world.job('example'));
    const shown = (await legend(page)).map((rgb) => `${rgb} 255`);
    const painted = Object.keys(await colours(page));
    expect(painted.length).toBeGreaterThan(3);
    for (const colour of painted) expect(shown).toContain(colour);
    // The sum of light is a fair measure between ends as far apart as these.
    const light = (rgb: string) =>
      rgb
        .split(' ')
        .slice(0, 3)
        .reduce((sum, u) => sum + Number(u), 0);
    const [quiet, loud] = [light(shown[0]!), light(shown.at(-1)!)];
    if (colorScheme === 'dark') expect(loud).toBeGreaterThan(quiet);
    else expect(loud).toBeLessThan(quiet);
    expect(world.complaints).toEqual([]);
  });
});

describe('the whole site', () => {
  it('has the neighbour on it, with name, level and margin', async () => {
    const page = await world.person('Ada');
    await sound(page, await withNeighbour());
    await page.getByRole('button', { name: 'Show the whole site' }).click();
    const at = await onScreen(page, AWAY[0]!, AWAY[1]!);
    const plan = (await page.locator('.plan[role=application]').boundingBox())!;
    expect(at.x).toBeGreaterThan(plan.x);
    expect(at.x).toBeLessThan(plan.x + plan.width);
    const labels = page.locator('.labels text');
    await labels.filter({ hasText: 'Mill house' }).waitFor({ state: 'attached' });
    await labels
      .filter({ hasText: /dBA by (day|night), .* dB (below|over) the limit/ })
      .first()
      .waitFor({ state: 'attached' });
  });

  it('has no label over another, and shows the hidden one under a hand', async () => {
    const page = await world.person('Ada', { viewport: { width: 1000, height: 640 } });
    await sound(page, await world.example('quayside-hotel'));
    const boxes = await page
      .locator('.labels text')
      .evaluateAll((all) =>
        all.map((t) => ({ text: t.textContent!, box: t.getBoundingClientRect().toJSON() as DOMRect })),
      );
    expect(boxes.length).toBeGreaterThan(3);
    for (const [i, a] of boxes.entries())
      for (const b of boxes.slice(i + 1)) {
        // What letters fill: their boxes are higher than they are.
        const across = Math.min(a.box.right, b.box.right) - Math.max(a.box.left, b.box.left);
        const down = Math.min(a.box.bottom, b.box.bottom) - Math.max(a.box.top, b.box.top);
        expect(across > 3 && down > 6, `${a.text} over ${b.text}`).toBe(false);
      }
    const labelled = boxes.flatMap(({ text }) => text.split(' + '));
    // One that a hand can get at: the uppermost where it stands.
    const hidden = await page
      .locator('.things [data-table=loudspeakers] .touch')
      .evaluateAll((all, known) => {
        for (const touch of all) {
          const { id } = touch.closest<SVGElement>('[data-table]')!.dataset;
          const box = touch.getBoundingClientRect();
          const at = { x: box.left + box.width / 2, y: box.top + box.height / 2 };
          const over = document.elementFromPoint(at.x, at.y)?.closest<SVGElement>('[data-table]');
          if (over?.dataset.id === id && !known.includes(id!)) return { ...at, id: id! };
        }
        return null;
      }, labelled);
    if (!hidden) throw new Error('every label had room: the check needs a smaller plan');
    await page.mouse.move(hidden.x, hidden.y);
    const raised = page.locator('.labels text.raised');
    await raised.waitFor({ state: 'attached' });
    expect((await raised.innerHTML()).split(' + ')).toContain(hidden.id);
  });
});

describe('within the target or not', () => {
  it('is painted in the areas alone, with a legend in words', async () => {
    const page = await world.person('Ada');
    await sound(page, await world.job('example'));
    const everywhere = Object.values(await colours(page)).reduce((sum, n) => sum + n, 0);
    await page.getByRole('radio', { name: 'Within target or not' }).click();
    await page.locator('.legend').getByText('as loud as wanted').waitFor();
    await settled(page);
    const painted = await colours(page);
    const inside = Object.values(painted).reduce((sum, n) => sum + n, 0);
    expect(inside).toBeGreaterThan(100);
    expect(inside).toBeLessThan(everywhere);
    // Three fields and two kinds of strokes at most.
    expect(Object.keys(painted).length).toBeLessThanOrEqual(5);
    expect(world.complaints).toEqual([]);
  });
});

describe('a pinned place', () => {
  it('is compared with the next one asked for', async () => {
    const page = await world.person('Ada');
    await sound(page, await world.job('example'));
    await page.getByRole('tab', { name: 'At a place' }).click();
    await page
      .getByRole('button', { name: /^Middle of/ })
      .first()
      .click();
    await page.getByRole('button', { name: 'Pin this place to compare' }).click();
    await page
      .locator('.plan')
      .getByText(/^pinned: .* dBA$/)
      .waitFor();
    // By the fire, away from the terrace and from every loudspeaker.
    const fire = await onScreen(page, 30.5, 6.5);
    await page.mouse.click(fire.x, fire.y);
    await page
      .getByRole('region', { name: 'Pinned place' })
      .getByText(/louder|quieter/)
      .waitFor();
    expect(world.complaints).toEqual([]);
  });
});

describe('a picture of the view', () => {
  it.each([
    ['Picture (PNG)', 'png'],
    ['Drawing (SVG)', 'svg'],
  ] as const)('is saved by one click: %s', async (button, kind) => {
    const page = await world.person('Ada');
    await sound(page, await world.job('example'));
    const waiting = page.waitForEvent('download');
    await page.getByRole('button', { name: button }).click();
    const download = await waiting;
    expect(download.suggestedFilename()).toMatch(new RegExp(`^[a-z0-9-]+-sound\\.${kind}$`));
    const bytes = readFileSync((await download.path())!);
    if (kind === 'png') {
      // The signature of ISO/IEC 15948, and a picture that is not of one colour.
      expect([...bytes.subarray(0, 8)]).toEqual([137, 80, 78, 71, 13, 10, 26, 10]);
      expect(bytes.length).toBeGreaterThan(20_000);
    } else {
      const text = bytes.toString();
      expect(text).toMatch(/^<svg/);
      expect(text).toContain('data:image/png;base64,');
      expect(text).not.toMatch(/href="(?!data:)/);
      for (const drawn of ['L1', 'LAeq, dB']) expect(text).toContain(drawn);
    }
    expect(world.complaints).toEqual([]);
  });
});
