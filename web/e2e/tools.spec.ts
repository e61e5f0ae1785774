/** Every tool of the site, by each hand there is: a mouse, a finger, a keyboard. */
import type { Page } from 'playwright-core';
import { afterAll, afterEach, beforeAll, describe, expect, it } from 'vitest';
import { Keys } from './keys';
import { Hand, type Point } from './sketch';
import { onScreen, still, World } from './world';

const world = new World();
beforeAll(() => world.start());
afterEach(() => world.leave());
afterAll(() => world.stop());

interface Drawn {
  tool: string;
  key: string;
  table: string;
  points: Point[];
  /** Whether it is ended by whoever draws it; a single place ends by itself. */
  ends: boolean;
}

const outline = ([x, y]: Point): Point[] => [
  [x, y],
  [x + 2, y],
  [x + 2, y + 1.5],
];
const line = ([x, y]: Point): Point[] => [
  [x, y],
  [x + 2, y],
];
const WHOLE: Point[] = [
  [0.5, 4.5],
  [26, 4.5],
  [26, 17.5],
  [0.5, 17.5],
];
/** In an order in which each finds what it needs: a stub-out its rack, a passage its wall. */
const ALL: Drawn[] = [
  { tool: 'Property', key: 'p', table: 'site', points: WHOLE, ends: true },
  { tool: 'Listening area', key: 'a', table: 'areas', points: outline([2, 6]), ends: true },
  { tool: 'Surface', key: 's', table: 'surfaces', points: outline([7, 6]), ends: true },
  { tool: 'Building', key: 'b', table: 'buildings', points: outline([12, 6]), ends: true },
  { tool: 'Wall or hedge', key: 'w', table: 'walls', points: line([17, 6]), ends: true },
  { tool: 'Neighbour', key: 'n', table: 'neighbours', points: line([22, 6]), ends: true },
  { tool: 'Neighbour point', key: 'i', table: 'neighbours', points: [[2, 9.5]], ends: false },
  { tool: 'Rack', key: 'k', table: 'racks', points: [[7, 9.5]], ends: false },
  { tool: 'Stub-out', key: 't', table: 'stubs', points: [[12, 9.5]], ends: false },
  { tool: 'Passage', key: 'h', table: 'passages', points: [[13, 6]], ends: false },
  { tool: 'Buried service', key: 'e', table: 'services', points: line([17, 9.5]), ends: true },
  { tool: 'Sleeve', key: 'l', table: 'sleeves', points: line([22, 9.5]), ends: true },
  { tool: 'No-go place', key: 'x', table: 'no_go', points: outline([2, 13]), ends: true },
  { tool: 'Mark', key: 'f', table: 'marks', points: [[7, 13]], ends: false },
];

type Way = (page: Page, drawn: Drawn) => Promise<void>;

const byMouse: Way = async (page, { tool, points, ends }) => {
  const hand = new Hand(page);
  await hand.tool(tool);
  if (ends) await hand.ended(...points);
  else await hand.points(...points);
};

const byFinger: Way = async (page, { tool, points, ends }) => {
  await page.getByRole('toolbar').getByRole('button', { name: tool, exact: true }).tap();
  for (const [x, y] of points) {
    const to = await onScreen(page, x, y);
    await page.touchscreen.tap(to.x, to.y);
  }
  if (ends) await page.getByRole('button', { name: 'Finish', exact: true }).tap();
};

/** By its letter; the first place by its distances, what follows by length and bearing. */
const byKeys: Way = async (page, { key, points, ends }) => {
  const keys = new Keys(page);
  const plan = page.locator('.plan[role="application"]');
  await plan.focus();
  await keys.press(key);
  const [first, ...others] = points;
  await keys.fill(page.getByLabel('East', { exact: true }), `${first![0]} m`);
  await keys.fill(page.getByLabel('North', { exact: true }), `${first![1]} m`);
  await keys.press('Enter');
  let last = first!;
  for (const next of others) {
    const [east, north] = [next[0] - last[0], next[1] - last[1]];
    const deg = (Math.atan2(east, north) * 180) / Math.PI;
    const length = page.getByLabel('Length', { exact: true });
    await length.and(page.locator(':focus')).waitFor();
    await keys.fill(length, `${Math.hypot(east, north)} m`);
    await keys.fill(page.getByLabel('Bearing', { exact: true }), String(deg));
    await keys.press('Enter');
    last = next;
  }
  if (ends) await keys.take(page.getByRole('button', { name: 'Finish', exact: true }));
};

interface Thing {
  outline?: Point[];
  line?: Point[];
  points?: Point[];
  position?: Point;
}

/** The points of what was drawn as the job has them; the property's where it is that. */
async function drawnIn(job: string, table: string, nth: number): Promise<Point[] | undefined> {
  const { document } = await world.read<{ document: Record<string, unknown> }>(`/jobs/${job}`);
  const all = document[table];
  const thing =
    table === 'site' ? (all as Thing | undefined) : Object.values((all ?? {}) as Record<string, Thing>)[nth];
  return thing?.outline ?? thing?.line ?? thing?.points ?? (thing?.position && [thing.position]);
}

describe('every tool of the site', () => {
  it.each([
    ['a mouse', byMouse],
    ['a finger', byFinger],
    ['a keyboard', byKeys],
  ] as const)(
    'draws what it is for, by %s',
    async (_, draw) => {
      const job = await world.job('empty', 'Every tool');
      const page = await world.person('Ada', { hasTouch: draw === byFinger });
      await world.open(page, job, 'site');
      await still(page);
      const many = new Map<string, number>();
      for (const drawn of ALL) {
        const nth = many.get(drawn.table) ?? 0;
        many.set(drawn.table, nth + 1);
        await draw(page, drawn);
        const made = () => drawnIn(job, drawn.table, nth);
        await expect
          .poll(async () => (await made())?.length, { message: drawn.tool, timeout: 30_000 })
          .toBe(drawn.points.length);
        // A hand is as exact as what it snaps to.
        for (const [i, [x, y]] of (await made())!.entries()) {
          const [east, north] = drawn.points[i]!;
          expect(Math.hypot(x - east, y - north), `${drawn.tool}, point ${i + 1}`).toBeLessThan(0.15);
        }
        // The tool is put down before the next one is taken up.
        const choose = { name: 'Choose', exact: true, pressed: true };
        await page.getByRole('toolbar').getByRole('button', choose).waitFor();
      }
      expect(world.complaints).toEqual([]);
    },
    300_000,
  );

  it('is in sight at the width of a usual screen, and at that of a small one', async () => {
    const job = await world.job('empty', 'In sight');
    const page = await world.person('Ada');
    await world.open(page, job, 'site');
    for (const width of [1440, 1280]) {
      await page.setViewportSize({ width, height: 900 });
      await still(page);
      const cut = await page.getByRole('toolbar').evaluate((strip) => {
        const room = strip.getBoundingClientRect();
        const outside = (b: Element) => {
          const box = b.getBoundingClientRect();
          return box.left < room.left - 1 || box.right > room.right + 1 || box.bottom > room.bottom + 1;
        };
        return [...strip.querySelectorAll('button')].filter(outside).map((b) => b.getAttribute('aria-label'));
      });
      expect(cut, `${width} px`).toEqual([]);
    }
  });
});
