import { describe, expect, it } from 'vitest';
import type { JobDocument, Thing } from '../api/document';
import type { Point } from '../lib/geometry';
import { mirrored, moved } from '../lib/arrange';
import { applied } from '../lib/pointer';
import {
  alignedIn,
  copied,
  edgeWay,
  mirroredIn,
  movedBy,
  nearestSide,
  offsetOf,
  spreadIn,
  within,
  type Sheet,
} from './arranging';

const square = (x: number, y: number, side: number): Point[] => [
  [x, y],
  [x + side, y],
  [x + side, y + side],
  [x, y + side],
];

/** A job as typed and as resolved; what is not said here nothing asks for. */
function job(tables: Record<string, unknown>): Sheet {
  const none = { areas: {}, surfaces: {}, loudspeakers: {}, stubs: {}, racks: {}, neighbours: {}, walls: {} };
  const document = { ...none, ...tables };
  return { document, doc: { site: {}, ...document } as unknown as JobDocument, catalogue: null };
}
const speaker = (position: Point, bearing = 0, more = {}) => ({
  model: 'm',
  position,
  bearing,
  mount: 'wall',
  ...more,
});
const L = (...ids: string[]): Thing[] => ids.map((id) => ({ table: 'loudspeakers', id }));
const after = (sheet: Sheet, patch: Parameters<typeof applied>[1]) =>
  applied(sheet.document, patch) as Record<string, Record<string, Record<string, unknown>>>;
const places = (sheet: Sheet, patch: Parameters<typeof applied>[1]) =>
  Object.values(after(sheet, patch).loudspeakers!).map((l) => l.position);

describe('moving together', () => {
  it('moves every shape of a thing, and takes the other on a stake along once', () => {
    const sheet = job({
      neighbours: {
        n: {
          line: [
            [0, 0],
            [0, 9],
          ],
          points: [[1, 5]],
        },
      },
      loudspeakers: {
        L1: speaker([3, 3], 0, { mount: 'stake' }),
        L2: speaker([3, 3], 90, { mount: 'stake' }),
        L3: speaker([7, 7]),
      },
    });
    const things: Thing[] = [{ table: 'neighbours', id: 'n' }, ...L('L1', 'L2')];
    const patch = movedBy(sheet, things.slice(0, 2), [1, -2]);
    expect(patch).toHaveLength(4);
    const now = after(sheet, patch);
    expect(now.neighbours!.n).toEqual({
      line: [
        [1, -2],
        [1, 7],
      ],
      points: [[2, 3]],
    });
    expect(places(sheet, patch)).toEqual([
      [4, 1],
      [4, 1],
      [7, 7],
    ]);
    expect(movedBy(sheet, things, [1, -2])).toEqual(patch);
  });
});

describe('copying', () => {
  it('gives a tag of its own, a name of its own and no line', () => {
    const sheet = job({
      areas: { area1: { name: 'Lawn', outline: square(0, 0, 4), target: '65 dBA' } },
      loudspeakers: { L1: speaker([1, 1], 30, { line: 'A', tap: '15 W' }) },
    });
    const things: Thing[] = [{ table: 'areas', id: 'area1' }, ...L('L1')];
    const { patch, things: made } = copied(sheet, things, (points) => moved(points, [10, 0]));
    expect(made).toEqual([{ table: 'areas', id: 'area2' }, ...L('L2')]);
    const now = after(sheet, patch);
    expect(now.areas!.area2).toEqual({ name: 'Lawn 2', outline: square(10, 0, 4), target: '65 dBA' });
    expect(now.loudspeakers!.L2).toEqual(speaker([11, 1], 30, { tap: '15 W' }));
    expect(now.loudspeakers!.L1).toEqual(sheet.doc.loudspeakers.L1);
  });
  it('of the only rack says of its stub-outs that they are its own', () => {
    const sheet = job({
      racks: { R1: { position: [0, 0] } },
      stubs: { T1: { position: [5, 5], rack: null } },
    });
    const { patch } = copied(sheet, [{ table: 'racks', id: 'R1' }], (points) => moved(points, [2, 0]));
    const now = after(sheet, patch);
    expect(now.stubs!.T1!.rack).toBe('R1');
    expect(now.racks!.R2).toEqual({ position: [2, 0] });
  });
  it('in the mirror turns what looks somewhere', () => {
    const sheet = job({ loudspeakers: { L1: speaker([2, 1], 30) } });
    const axis = { at: [5, 0] as Point, bearing_deg: 0 };
    const { patch } = copied(sheet, L('L1'), (points) => mirrored(points, axis), axis);
    // 3 m west of the axis comes to 3 m east of it; 30 degrees to 330.
    expect(after(sheet, patch).loudspeakers!.L2).toMatchObject({ position: [8, 1], bearing: 330 });
  });
});

it('mirroring turns what is chosen, and nothing else', () => {
  const sheet = job({ loudspeakers: { L1: speaker([2, 1], 30), L2: speaker([9, 9], 45) } });
  const now = after(sheet, mirroredIn(sheet, L('L1'), { at: [0, 4], bearing_deg: 90 }));
  // 3 m south of the axis comes to 3 m north of it; 30 degrees to 150.
  expect(now.loudspeakers!.L1).toMatchObject({ position: [2, 7], bearing: 150 });
  expect(now.loudspeakers!.L2).toEqual(sheet.doc.loudspeakers.L2);
});

it('aligning keeps every shape as it is', () => {
  const sheet = job({ areas: { a: { outline: square(1, 1, 2) }, b: { outline: square(5, 4, 3) } } });
  const things: Thing[] = [
    { table: 'areas', id: 'a' },
    { table: 'areas', id: 'b' },
  ];
  const now = after(sheet, alignedIn(sheet, things, 'north'));
  // The northernmost edge is at 7 m.
  expect(now.areas!.a!.outline).toEqual(square(1, 5, 2));
  expect(now.areas!.b!.outline).toEqual(square(5, 4, 3));
});

describe('spreading along an edge', () => {
  const wall: Point[] = [
    [0, 0],
    [12, 0],
  ];
  const sheet = job({ loudspeakers: { L1: speaker([9, 3]), L2: speaker([1, 2]), L3: speaker([5, -1]) } });
  it('keeps the order in which they stand: three on 12 m at 2, 6 and 10 m', () => {
    expect(places(sheet, spreadIn(sheet, L('L1', 'L2', 'L3'), { way: wall, closed: false }, false))).toEqual([
      [10, 0],
      [2, 0],
      [6, 0],
    ]);
  });
  it('at a distance from a side of an outline lies outside it, whichever way round it was drawn', () => {
    const house = square(0, 0, 12);
    expect(edgeWay({ way: house, closed: true, side: 0 }, 1)!.way).toEqual([
      [0, -1],
      [12, -1],
    ]);
    const other = [...house].reverse();
    // Its third side is the south one now, from east to west.
    expect(edgeWay({ way: other, closed: true, side: 2 }, 1)!.way).toEqual([
      [12, -1],
      [0, -1],
    ]);
    expect(edgeWay({ way: house, closed: true, side: null }, -7)).toBeNull();
  });
});

it('a frame takes what lies wholly inside', () => {
  const { doc } = job({ areas: { a: { outline: square(1, 1, 2) }, b: { outline: square(2, 2, 9) } } });
  const things: Thing[] = [
    { table: 'areas', id: 'a' },
    { table: 'areas', id: 'b' },
  ];
  expect(within(doc, things, { min: [0, 0], max: [5, 5] })).toEqual([things[0]]);
});

it('the offset of an outline is worked out of things that have one', () => {
  const { doc } = job({ areas: { a: { outline: square(0, 0, 4) } }, loudspeakers: { L1: speaker([0, 0]) } });
  expect(offsetOf(doc, { table: 'areas', id: 'a' }, -1)).toEqual(square(1, 1, 2));
  expect(offsetOf(doc, L('L1')[0]!, 1)).toBeNull();
});

it('the side meant by a place is the nearest within reach', () => {
  const ways = [
    { key: 'house', way: square(0, 0, 4), closed: true },
    { key: 'wall', way: square(6, 0, 4).slice(0, 2), closed: false },
  ];
  // 0.3 m from the west side of the house, which is its fourth.
  expect(nearestSide(ways, [-0.3, 2], 0.5)).toMatchObject({ key: 'house', side: 3 });
  expect(nearestSide(ways, [8, 0.4], 0.5)).toMatchObject({ key: 'wall', side: 0 });
  // A wall does not close.
  expect(nearestSide(ways.slice(1), [8, 2], 1.5)).toBeNull();
});
