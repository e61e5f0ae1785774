/** Drawing at the speed of a tape: forms, figures typed, sides, several things at once, keys, fingers; with motion as people have it. */
import type { Page } from 'playwright-core';
import { afterAll, afterEach, beforeAll, describe, expect, it } from 'vitest';
import { serious, tooLow, tooSmall, tooWide } from './looks';
import { Hand, sketched, type Point } from './sketch';
import { dragTo, onScreen, settled, still, World } from './world';

const world = new World();
beforeAll(() => world.start());
afterEach(() => world.leave());
afterAll(() => world.stop());

interface Document {
  areas?: Record<string, { name?: string; outline: Point[] }>;
  surfaces?: Record<string, { outline: Point[] }>;
  walls?: Record<string, { line: Point[] }>;
  marks?: Record<string, { position: Point }>;
  loudspeakers?: Record<string, { position: Point }>;
}
const documentOf = async (job: string) => (await world.read<{ document: Document }>(`/jobs/${job}`)).document;
const marksOf = async (job: string) =>
  Object.values((await documentOf(job)).marks ?? {}).map((m) => m.position);
const plan = (page: Page) => page.locator('.plan[role="application"]');
const undone = async (page: Page, note: string) => {
  await page.getByRole('button', { name: `Undo: ${note}`, exact: true }).click();
  await page.getByRole('button', { name: `Redo: ${note}`, exact: true }).waitFor();
};

async function opened(name: string, patch: object[] = [], at = 'site') {
  const job = patch.length ? await sketched(world, name, patch) : await world.job('empty', name);
  const page = await world.person('Ada');
  await world.open(page, job, at);
  await still(page);
  return { job, page, hand: new Hand(page) };
}

const AREA = (outline: Point[]) => ({
  op: 'add',
  path: '/areas',
  value: { area1: { name: 'Lawn', outline, target: '65 dBA' } },
});
const LAWN = AREA([
  [6, 6],
  [16, 6],
  [16, 12],
  [6, 12],
]);
/** Room to draw in: the whole site goes as far as these. */
const FAR = {
  op: 'add',
  path: '/marks',
  value: { W: { name: 'Gate', position: [1, 1] }, E: { name: 'Corner', position: [28, 18] } },
};
const MARKS = {
  op: 'add',
  path: '/marks',
  value: {
    M1: { name: 'Post', position: [20, 8] },
    M2: { name: 'Tap', position: [22, 9] },
    M3: { name: 'Gully', position: [24, 13] },
  },
};

describe('figures', () => {
  it('typed on the plan are the length, Tab leads to the bearing, Enter with nothing typed ends', async () => {
    const { job, page, hand } = await opened('Typed');
    await hand.tool('Wall or hedge');
    await hand.at(4, 10);
    const east = await onScreen(page, 9, 10);
    await page.mouse.move(east.x, east.y);
    await page.keyboard.type('12');
    const length = page.getByLabel('Length', { exact: true });
    await expect.poll(() => length.inputValue()).toBe('12');
    // The hand says which way.
    await page.keyboard.press('Enter');
    await page.keyboard.type('5');
    await page.keyboard.press('Tab');
    await page.keyboard.type('0');
    await page.keyboard.press('Enter');
    await page.keyboard.press('Enter');
    await page.getByRole('heading', { name: /^Wall/ }).waitFor();
    expect((await documentOf(job)).walls!.wall1!.line).toEqual([
      [4, 10],
      [16, 10],
      [16, 15],
    ]);
    expect(world.complaints).toEqual([]);
  });

  it('of a side are typed in place, in feet where those are chosen, and what is wrong is told there', async () => {
    const { job, page } = await opened('Sides', [LAWN]);
    await page.getByRole('button', { name: /^Lawn/ }).click();
    await page.getByRole('button', { name: 'Side 1 of Lawn: 10 m' }).click();
    const box = page.getByRole('textbox', { name: 'Side 1 of Lawn' });
    await box.fill('wide');
    await box.press('Enter');
    await plan(page).getByRole('alert').filter({ hasText: '"wide" is not a length' }).waitFor();
    await box.fill('40 ft');
    await box.press('Enter');
    // 40 feet are 12.192 m; the right angles stay.
    await page.getByRole('button', { name: 'Side 1 of Lawn: 12.19 m' }).waitFor();
    expect((await documentOf(job)).areas!.area1!.outline).toEqual([
      [6, 6],
      [18.192, 6],
      [18.192, 12],
      [6, 12],
    ]);
    await undone(page, 'Set a side of Lawn to 12.19 m');
    await page.getByRole('button', { name: 'Side 1 of Lawn: 10 m' }).click();
    await box.press('Escape');
    await page.getByRole('button', { name: 'Side 1 of Lawn: 10 m' }).waitFor();
    expect(world.complaints).toEqual([]);
  });
});

describe('snapping', () => {
  it('shows what a point was drawn to: a right angle, a parallel, the edge of something', async () => {
    const { page, hand } = await opened('Snapped', [
      AREA([
        [4, 2],
        [16, 2],
        [16, 4],
        [4, 4],
      ]),
      {
        op: 'add',
        path: '/walls',
        value: {
          wall1: {
            height: 2,
            line: [
              [4, 14],
              [16, 19],
            ],
          },
        },
      },
    ]);
    await hand.tool('Sleeve');
    const hover = async (x: number, y: number) => {
      const to = await onScreen(page, x, y);
      await page.mouse.move(to.x, to.y);
    };
    const told = page.locator('.over text');
    await hover(10, 16.4);
    await expect.poll(() => told.allTextContents()).toEqual(['on the edge']);
    await hand.at(8, 6);
    await hover(8.1, 9);
    await expect.poll(async () => (await told.textContent())!.split(', ').at(-1)).toBe('north');
    // 12 east and 5 north as the wall, half as far.
    await hover(14.02, 8.48);
    await expect.poll(async () => (await told.textContent())!.split(', ').at(-1)).toBe('parallel');
    expect(await page.locator('.over .guide').count()).toBe(1);
    expect(world.complaints).toEqual([]);
  });
});

describe('several things', () => {
  it('are chosen with Shift and by a frame, put in line, copied, mirrored and taken out, with one undo each', async () => {
    const { job, page, hand } = await opened('Several', [LAWN, MARKS]);
    const start = await marksOf(job);
    await hand.at(20, 8);
    await page.getByRole('heading', { name: /^M1/ }).waitFor();
    await page.keyboard.down('Shift');
    await hand.at(24, 13);
    await page.getByRole('heading', { name: '2 chosen' }).waitFor();
    await hand.at(24, 13);
    await page.getByRole('heading', { name: /^M1/ }).waitFor();
    await dragTo(page, [18.5, 6], [26, 15]);
    await page.keyboard.up('Shift');
    await page.getByRole('heading', { name: '3 chosen' }).waitFor();

    const many = page.getByRole('region', { name: '3 things chosen' });
    await many.getByRole('button', { name: 'South edges' }).click();
    await expect
      .poll(() => marksOf(job))
      .toEqual([
        [20, 8],
        [22, 8],
        [24, 8],
      ]);
    await undone(page, 'Put M1, M2 and M3 in line');
    expect(await marksOf(job)).toEqual(start);

    await many.getByRole('button', { name: 'East to west' }).click();
    // The middle of 20 and 24 is 22.
    await expect
      .poll(() => marksOf(job))
      .toEqual([
        [24, 8],
        [22, 9],
        [20, 13],
      ]);
    await undone(page, 'Mirror M1, M2 and M3');

    await many.getByLabel('To the north').fill('-2');
    await many.getByRole('button', { name: 'Copy there' }).click();
    await expect.poll(() => marksOf(job)).toEqual([...start, [20, 6], [22, 7], [24, 11]]);
    await page.getByRole('heading', { name: '3 chosen' }).waitFor();
    await undone(page, 'Copy M1, M2 and M3');
    expect(await marksOf(job)).toEqual(start);

    // The copies are gone, and nothing is chosen any more.
    await plan(page).focus();
    await page.keyboard.press('Control+a');
    await page.getByRole('heading', { name: '4 chosen' }).waitFor();
    await page.keyboard.press('ArrowRight');
    await page.getByRole('button', { name: 'Undo: Move 4 things' }).waitFor();
    expect(await marksOf(job)).toEqual(start.map(([x, y]) => [Math.round(10 * x + 1) / 10, y]));
    await undone(page, 'Move 4 things');
    await page.keyboard.press('Delete');
    await page.getByText('Took out 4 things.').waitFor();
    await expect.poll(() => marksOf(job)).toEqual([]);
    await undone(page, 'Take out 4 things');
    expect(await marksOf(job)).toEqual(start);
    expect(Object.keys((await documentOf(job)).areas!)).toEqual(['area1']);
    expect(world.complaints).toEqual([]);
  });

  it('are dragged together, and Escape takes the drag back before it lets go of them', async () => {
    const { job, page, hand } = await opened('Together', [MARKS]);
    const start = await marksOf(job);
    await hand.at(20, 8);
    await page.keyboard.down('Shift');
    await hand.at(22, 9);
    await page.keyboard.up('Shift');
    const from = await onScreen(page, 22, 9);
    const to = await onScreen(page, 22, 11);
    await page.mouse.move(from.x, from.y);
    await page.mouse.down();
    await page.mouse.move(to.x, to.y, { steps: 6 });
    await page.keyboard.press('Escape');
    await page.mouse.up();
    await page.getByRole('heading', { name: '2 chosen' }).waitFor();
    expect(await marksOf(job)).toEqual(start);
    await dragTo(page, [22, 9], [22, 11]);
    await expect
      .poll(() => marksOf(job))
      .toEqual([
        [20, 10],
        [22, 11],
        [24, 13],
      ]);
    await page.keyboard.press('Escape');
    await page.getByRole('heading', { name: 'Everything drawn' }).waitFor();
    expect(world.complaints).toEqual([]);
  });

  it('stand evenly along an edge, in the order in which they stood', async () => {
    const { job, page, hand } = await opened('Spread', [LAWN, MARKS]);
    await page.getByRole('button', { name: 'Choose several' }).click();
    for (const [x, y] of [[20, 8], [22, 9], [24, 13]] as const) await hand.at(x, y); // prettier-ignore
    const many = page.getByRole('region', { name: '3 things chosen' });
    await many.getByLabel('Edge of').selectOption({ label: 'Lawn' });
    await many.getByRole('button', { name: 'Take it on the plan' }).click();
    await hand.at(16, 10);
    // The east side, which is the second from the first corner on.
    const side = many.getByLabel('Which side');
    await expect.poll(() => side.locator('option:checked').innerText()).toBe('Side 2, 6 m');
    expect(await page.locator('.plan .pointed').count()).toBe(1);
    await many.getByLabel('Outside it by').fill('1 m');
    await many.getByRole('button', { name: 'Spread evenly' }).click();
    // The east side runs north from 6 to 12 m: three on 6 m stand 1, 3 and 5 m along it, a metre east of it.
    await expect
      .poll(() => marksOf(job))
      .toEqual([
        [17, 7],
        [17, 9],
        [17, 11],
      ]);
    await page.getByRole('button', { name: 'Undo: Spread M1, M2 and M3 along Lawn' }).waitFor();
    expect(world.complaints).toEqual([]);
  });

  it('loudspeakers leave their line together, and come back with one undo', async () => {
    const job = await world.job('example');
    const page = await world.person('Ada');
    await world.open(page, job, 'sound');
    await settled(page);
    const before = await documentOf(job);
    const hand = new Hand(page);
    for (const [i, id] of ['L1', 'L2', 'L5'].entries()) {
      if (i) await page.keyboard.down('Shift');
      await hand.at(...before.loudspeakers![id]!.position);
      await page.keyboard.up('Shift');
    }
    await page.getByRole('heading', { name: '3 chosen' }).waitFor();
    await page.keyboard.press('Delete');
    // Their line was read at handover: what becomes of the readings is told before anything goes.
    await page.getByText('The reading of line A so far stays as it was judged.').waitFor();
    await page.getByRole('button', { name: 'Take them out' }).click();
    await page.getByText('Took out L1, L2 and L5.').waitFor();
    await hand.saved();
    expect(Object.keys((await documentOf(job)).loudspeakers!)).not.toContain('L2');
    await undone(page, 'Take out L1, L2 and L5');
    expect(await documentOf(job)).toEqual(before);
    expect(world.complaints).toEqual([]);
  });
});

it('an outline is drawn again at a distance, and refused where nothing would be left', async () => {
  const { job, page } = await opened('Offset', [LAWN]);
  await page.getByRole('button', { name: /^Lawn/ }).click();
  await page.getByText('Copy, mirror, move by figures').click();
  const panel = page.getByRole('region', { name: /^Lawn/ });
  await panel.getByLabel('Outwards by').fill('-3');
  await panel.getByRole('button', { name: 'Draw it again there' }).click();
  await panel.getByRole('alert').filter({ hasText: 'nothing of it is left' }).waitFor();
  await panel.getByLabel('Outwards by').fill('1');
  await panel.getByRole('button', { name: 'Draw it again there' }).click();
  await page.getByRole('heading', { name: /^Lawn 2/ }).waitFor();
  const areas = Object.values((await documentOf(job)).areas!);
  expect(areas.map((a) => [a.name, a.outline[0], a.outline[2]])).toEqual([
    ['Lawn', [6, 6], [16, 12]],
    ['Lawn 2', [5, 5], [17, 13]],
  ]);
  expect(world.complaints).toEqual([]);
});

describe('keys', () => {
  it('take tools, Escape ends the drawing first, then the tool, then the choice', async () => {
    const { page, hand } = await opened('Keys', [LAWN, FAR]);
    await plan(page).focus();
    await page.keyboard.press('s');
    const surface = page.getByRole('toolbar').getByRole('button', { name: 'Surface', exact: true });
    await expect.poll(() => surface.getAttribute('aria-pressed')).toBe('true');
    await hand.points([18, 8], [20, 8]);
    const set = page.locator('[data-handle^="draft:"]');
    await expect.poll(() => set.count()).toBe(2);
    // A letter in the middle of a drawing throws nothing away.
    await page.keyboard.press('b');
    expect(await set.count()).toBe(2);
    await page.keyboard.press('Escape');
    expect(await set.count()).toBe(0);
    expect(await surface.getAttribute('aria-pressed')).toBe('true');
    await page.keyboard.press('Escape');
    expect(await surface.getAttribute('aria-pressed')).toBe('false');
    await page.getByRole('button', { name: /^Lawn/ }).click();
    // The keys are on the list, not on the plan.
    await page.keyboard.press('Escape');
    await page.getByRole('heading', { name: 'Everything drawn' }).waitFor();
    expect(world.complaints).toEqual([]);
  });

  it('are listed by the question mark, and what can be done is found by its name', async () => {
    const { page } = await opened('Found', [LAWN]);
    await plan(page).focus();
    await page.keyboard.press('?');
    const list = page.getByRole('dialog', { name: 'Keys' });
    await list.getByText('Listening area').waitFor();
    await page.keyboard.press('Escape');
    await list.waitFor({ state: 'detached' });
    await page.keyboard.press('Control+k');
    const box = page.getByRole('combobox', { name: 'What is to be done' });
    await box.waitFor();
    await page.keyboard.type('choose law');
    await page.keyboard.press('Enter');
    await page.getByRole('region', { name: /^Lawn/ }).waitFor();
    await page.keyboard.press('Control+k');
    await page.keyboard.type('draw rect');
    await page.keyboard.press('Enter');
    await page.getByText('Click a corner and the one opposite').waitFor();
    await page.keyboard.press('Control+k');
    await page.keyboard.type('go to brief');
    await page.keyboard.press('Enter');
    await page.getByRole('heading', { name: 'Means and limits' }).waitFor();
    expect(world.complaints).toEqual([]);
  });

  it('draw a rectangle by lengths alone', async () => {
    const { job, page } = await opened('By keys');
    await plan(page).focus();
    await page.keyboard.press('a');
    await page.keyboard.press('r');
    await page.getByLabel('East', { exact: true }).fill('3 m');
    await page.getByLabel('North', { exact: true }).fill('4 m');
    await page.keyboard.press('Enter');
    await page.getByLabel('Length', { exact: true }).and(page.locator(':focus')).waitFor();
    await page.keyboard.type('8');
    await page.keyboard.press('Tab');
    await page.keyboard.type('0');
    await page.keyboard.press('Tab');
    await page.keyboard.type('5');
    await page.keyboard.press('Enter');
    await page.getByRole('heading', { name: /^Listening area/ }).waitFor();
    // 8 m to the north, 5 m to the right of that.
    expect((await documentOf(job)).areas!.area1!.outline).toEqual([
      [3, 4],
      [3, 12],
      [8, 12],
      [8, 4],
    ]);
    expect(world.complaints).toEqual([]);
  });
});

describe('fast clicking', () => {
  it('loses no loudspeaker, though the hand moves while it clicks', async () => {
    const { job, page } = await opened('Fast', [LAWN, FAR], 'sound');
    await page.getByRole('tab', { name: 'Place', exact: true }).click();
    await page.getByRole('button', { name: /^stake-165-wide/ }).click();
    await still(page);
    const places: Point[] = [4, 8, 12, 16, 20, 24].flatMap((x): Point[] => [
      [x, 5],
      [x, 14],
    ]);
    const at = [];
    for (const p of places) at.push(await onScreen(page, ...p));
    for (const { x, y } of at) {
      await page.mouse.move(x, y);
      await page.mouse.down();
      await page.mouse.move(x + 2, y + 1);
      await page.mouse.up();
    }
    const placed = async () => Object.keys((await documentOf(job)).loudspeakers ?? {}).length;
    await expect.poll(placed, { timeout: 60_000 }).toBe(places.length);
    expect(world.complaints).toEqual([]);
  });
});

describe.each([
  ['light', 360],
  ['dark', 360],
  ['dark', 1440],
] as const)('with fingers, %s, %d px wide', (colorScheme, width) => {
  it('a rectangle is two taps, several are chosen by taps, and all of it can be read and hit', async () => {
    const job = await sketched(world, 'Fingers', [MARKS]);
    const page = await world.person('Ada', {
      viewport: { width, height: 800 },
      colorScheme,
      hasTouch: true,
      bypassCSP: true,
    });
    await world.open(page, job, 'site');
    await still(page);
    const tap = async (x: number, y: number) => {
      const to = await onScreen(page, x, y);
      await page.touchscreen.tap(to.x, to.y);
    };
    const looks = async (what: string) => {
      expect(await tooWide(page), what).toEqual([]);
      expect(await tooSmall(page, 12), what).toEqual([]);
      expect(await tooLow(page, 44), what).toEqual([]);
      expect(await serious(page), what).toEqual([]);
    };
    const strip = page.getByRole('toolbar');
    await strip.getByRole('button', { name: 'Rectangle', exact: true }).tap();
    await strip.getByRole('button', { name: 'Surface', exact: true }).tap();
    await page.getByRole('radio', { name: 'paving', exact: true }).tap();
    await still(page);
    await looks('drawing');
    await tap(20.5, 10);
    await tap(23, 12);
    await page.getByRole('heading', { name: /^Paving/ }).waitFor();
    const { outline } = (await documentOf(job)).surfaces!.surface1!;
    expect(outline.map(String).sort()).toEqual(['20.5,10', '20.5,12', '23,10', '23,12']);
    await looks('a surface chosen');
    await page.getByRole('button', { name: 'Choose several' }).tap();
    await still(page);
    await tap(20, 8);
    await tap(24, 13);
    await page.getByRole('heading', { name: '3 chosen' }).waitFor();
    await looks('several chosen');
    await page.getByRole('button', { name: 'Search what can be done' }).tap();
    await page.getByRole('combobox').waitFor();
    await looks('the search');
    await page.keyboard.type('keys');
    await page.keyboard.press('Enter');
    await page.getByRole('dialog', { name: 'Keys' }).waitFor();
    await looks('the keys');
    expect(world.complaints).toEqual([]);
  }, 240_000);
});
