import { describe, expect, it } from 'vitest';
import { area, type Point } from './geometry';
import { offset } from './offset';

const SQUARE: Point[] = [
  [0, 0],
  [4, 0],
  [4, 4],
  [0, 4],
];
/** An L: 6 by 6 m without the 3 by 3 m in the north-east. */
const ELL: Point[] = [
  [0, 0],
  [6, 0],
  [6, 3],
  [3, 3],
  [3, 6],
  [0, 6],
];

describe('an outline moved outwards', () => {
  it('by 1 m, whichever way round it was drawn', () => {
    const wanted: Point[] = [
      [-1, -1],
      [5, -1],
      [5, 5],
      [-1, 5],
    ];
    expect(offset(SQUARE, true, 1)).toEqual(wanted);
    expect(offset([...SQUARE].reverse(), true, 1)!.sort()).toEqual([...wanted].sort());
  });
  it('takes an inner corner along: the L by 1 m', () => {
    expect(offset(ELL, true, 1)).toEqual([
      [-1, -1],
      [7, -1],
      [7, 4],
      [4, 4],
      [4, 7],
      [-1, 7],
    ]);
  });
  it('cuts off what would stick out farther than twice the distance', () => {
    // A wedge 1 m high and 20 m long: its point has 2.86 degrees, a spike of 1 / sin(1.43 deg) = 40 m.
    const wedge: Point[] = [
      [0, 0],
      [20, 0],
      [0, 1],
    ];
    const out = offset(wedge, true, 1)!;
    // The point becomes two corners; so does no other: 90 degrees stick out 1.41 m, 87.1 degrees 1.45 m.
    expect(out).toHaveLength(4);
    const spikes = out.map(([x, y]) => Math.hypot(x - 20, y)).sort((a, b) => a - b);
    // Both ends of the cut lie on a line 2 m from the point, at right angles to the spike: the farthest is not much more.
    expect(spikes[0]!).toBeGreaterThanOrEqual(2);
    expect(spikes[0]!).toBeLessThan(2.4);
  });
});

describe('an outline moved inwards', () => {
  it('by 1 m', () => {
    expect(offset(SQUARE, true, -1)).toEqual([
      [1, 1],
      [3, 1],
      [3, 3],
      [1, 3],
    ]);
  });
  it('by as much as it has is nothing', () => {
    expect(offset(SQUARE, true, -2)).toBeNull();
    expect(offset(SQUARE, true, -3)).toBeNull();
  });
  it('loses a side that is used up', () => {
    // A house with a corner cut off by a side of sqrt 2 m: by 2 m inwards the cut is gone (it is used up at
    // 1 / (2 - sqrt 2) = 1.71 m) and the square 2 to 6 is left.
    const cut: Point[] = [
      [0, 0],
      [8, 0],
      [8, 7],
      [7, 8],
      [0, 8],
    ];
    const out = offset(cut, true, -2)!;
    expect(out).toHaveLength(4);
    expect(Math.abs(area(out))).toBeCloseTo(16, 6);
  });
});

describe('a way moved sideways', () => {
  it('to the right, round its corner', () => {
    // East, then north: the right of it lies south and east.
    const way: Point[] = [
      [0, 0],
      [5, 0],
      [5, 3],
    ];
    expect(offset(way, false, 1)).toEqual([
      [0, -1],
      [6, -1],
      [6, 3],
    ]);
    expect(offset(way, false, -1)).toEqual([
      [0, 1],
      [4, 1],
      [4, 3],
    ]);
  });
  it('keeps corners that lie on one line', () => {
    const way: Point[] = [
      [0, 0],
      [2, 0],
      [5, 0],
    ];
    expect(offset(way, false, 0.5)).toEqual([
      [0, -0.5],
      [2, -0.5],
      [5, -0.5],
    ]);
  });
  it('is nothing without a length', () => {
    expect(
      offset(
        [
          [1, 1],
          [1, 1],
        ],
        false,
        1,
      ),
    ).toBeNull();
  });
});
