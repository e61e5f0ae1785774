/** A job of more loudspeakers than a browser moves one by one: drawn on a canvas, taken by mouse, finger and keyboard as ever. */
import type { Page } from 'playwright-core';
import { afterAll, afterEach, beforeAll, describe, expect, it } from 'vitest';
import { dragTo, lies, onScreen, settled, still, World } from './world';

const world = new World();
beforeAll(() => world.start());
afterEach(() => world.leave());
afterAll(() => world.stop());

type Placed = Record<string, unknown> & { position: [number, number] };
const loudspeakersOf = async (job: string) =>
  (await world.read<{ document: { loudspeakers: Record<string, Placed> } }>(`/jobs/${job}`)).document
    .loudspeakers;

/** Four corners and the middle of a square, far from all others: a cluster from far, apart from near. */
const CORNER: [number, number][] = [
  [100.5, 32.5],
  [103.5, 32.5],
  [100.5, 35.5],
  [103.5, 35.5],
  [102, 34],
];

/** The example with a field of 150 loudspeakers beside it, and five in a corner: N1 to N5. */
async function crowd(): Promise<string> {
  const other = await world.job('example');
  const { model, tap, bearing } = (await loudspeakersOf(other)).L13!;
  const placed = (position: [number, number]) => ({ model, tap, bearing, position });
  const field = Array.from({ length: 150 }, (_, n) => ({
    op: 'add',
    path: `/loudspeakers/M${n + 1}`,
    value: placed([60 + 1.5 * (n % 10), 1.5 * Math.floor(n / 10)]),
  }));
  const corner = CORNER.map((at, n) => ({ op: 'add', path: `/loudspeakers/N${n + 1}`, value: placed(at) }));
  // Without the outline of the property the whole plan is all that is drawn.
  return world.exampleWith([{ op: 'remove', path: '/site/outline' }, ...field, ...corner]);
}

async function opened(options = {}): Promise<{ job: string; page: Page }> {
  const job = await crowd();
  const page = await world.person('Ada', options);
  await world.open(page, job, 'sound');
  await settled(page);
  await still(page);
  return { job, page };
}

const chosen = (page: Page, id: string) =>
  page.getByRole('heading', { name: new RegExp(`^${id}\\b`) }).waitFor();
const elements = (page: Page) => page.locator('.things [data-table="loudspeakers"]').count();

/** Goes to the corner by its cluster. */
async function toCorner(page: Page) {
  const from = await lies(page);
  const at = await onScreen(page, ...CORNER[4]!);
  await page.mouse.click(at.x, at.y);
  await still(page);
  expect((await lies(page)).k).toBeGreaterThan(2 * from.k);
}

describe('many loudspeakers', () => {
  it('are drawn on a canvas, gather from far away and stand apart once their cluster is pressed', async () => {
    const { page } = await opened();
    expect(await elements(page)).toBe(0);
    expect(await page.locator('.plan canvas').count()).toBe(3);
    await toCorner(page);
    // Something is painted where each of them stands: of a canvas alone a colour tells.
    for (const place of CORNER) {
      const at = await onScreen(page, ...place);
      const alpha = await page.evaluate(
        ([x, y]) => {
          const canvas = [...document.querySelectorAll<HTMLCanvasElement>('.plan canvas')].at(-1)!;
          const box = canvas.getBoundingClientRect();
          const [u, v] = [
            ((x! - box.left) * canvas.width) / box.width,
            ((y! - box.top) * canvas.height) / box.height,
          ];
          const { data } = canvas.getContext('2d')!.getImageData(Math.round(u) - 2, Math.round(v) - 2, 5, 5);
          return Math.max(...[...data].filter((_, i) => i % 4 === 3));
        },
        [at.x, at.y],
      );
      expect(alpha).toBeGreaterThan(200);
    }
    expect(world.complaints).toEqual([]);
  });

  it('are taken and dragged by a mouse: what is chosen is an element, the others stay on the canvas', async () => {
    const { job, page } = await opened();
    await toCorner(page);
    const at = await onScreen(page, ...CORNER[0]!);
    await page.mouse.click(at.x, at.y);
    await chosen(page, 'N1');
    expect(await elements(page)).toBe(1);
    await dragTo(page, CORNER[0]!, [99.5, 31.5]);
    await page.getByText('saved').waitFor();
    const [x, y] = (await loudspeakersOf(job)).N1!.position;
    expect(Math.hypot(x - 99.5, y - 31.5)).toBeLessThan(0.2);
    // A click beside all of them lets go.
    const beside = await onScreen(page, 98, 37);
    await page.mouse.click(beside.x, beside.y);
    expect(await elements(page)).toBe(0);
    expect(world.complaints).toEqual([]);
  });

  it('are found by tag and moved by keys', async () => {
    const { job, page } = await opened();
    await page.keyboard.press('Control+k');
    await page.getByRole('combobox').fill('M15');
    // M150 and others begin with it: the tag itself comes first.
    await page.keyboard.press('Enter');
    await chosen(page, 'M15');
    const before = (await loudspeakersOf(job)).M15!.position;
    await page.locator('.plan[role="application"]').focus();
    await page.keyboard.press('ArrowRight');
    await page.getByRole('button', { name: 'Undo: Move M15' }).waitFor();
    const after = (await loudspeakersOf(job)).M15!.position;
    expect(after[0]).toBeGreaterThan(before[0]);
    expect(world.complaints).toEqual([]);
  });

  it('are taken by a finger, and stand in a list', async () => {
    const { page } = await opened({ hasTouch: true });
    await toCorner(page);
    const at = await onScreen(page, ...CORNER[3]!);
    await page.touchscreen.tap(at.x, at.y);
    await chosen(page, 'N4');
    await page.getByRole('tab', { name: 'Place', exact: true }).click();
    await page
      .getByRole('region', { name: 'Placed loudspeakers' })
      .getByRole('button', { name: /^N2,/ })
      .click();
    await chosen(page, 'N2');
    expect(world.complaints).toEqual([]);
  });

  it('have a map of what is seen, and it says how far apart its places are', async () => {
    const { page } = await opened();
    const spacing = async () => {
      const label = (await page
        .getByRole('img', { name: /^Colours of the map/ })
        .getAttribute('aria-label'))!;
      return Number(/a place every ([\d.]+) m/.exec(label)![1]);
    };
    const whole = await spacing();
    await toCorner(page);
    await page.waitForFunction((before) => {
      const label =
        document.querySelector('[aria-label^="Colours of the map"]')?.getAttribute('aria-label') ?? '';
      return Number(/a place every ([\d.]+) m/.exec(label)?.[1]) < before / 1.5;
    }, whole);
    await page.getByRole('button', { name: 'Show the whole site' }).click();
    await page.waitForFunction((before) => {
      const label =
        document.querySelector('[aria-label^="Colours of the map"]')?.getAttribute('aria-label') ?? '';
      return Number(/a place every ([\d.]+) m/.exec(label)?.[1]) === before;
    }, whole);
    expect(world.complaints).toEqual([]);
  });
});
