import { describe, expect, it } from 'vitest';
import type { Point } from './geometry';
import { bearingOfSideAt, snap, type Way } from './snapping';

const SQUARE: Point[] = [
  [0, 0],
  [4, 0],
  [4, 4],
  [0, 4],
];
const ways: Way[] = [{ way: SQUARE, closed: true }];
const after = (points: Point[], closes = true) => ({ points, closes });
const place = (s: { at: Point }, wanted: Point) => {
  expect(s.at[0]).toBeCloseTo(wanted[0], 4);
  expect(s.at[1]).toBeCloseTo(wanted[1], 4);
};

describe('snapping', () => {
  it('prefers a corner to an edge, an edge to the grid', () => {
    expect(snap([3.9, 3.95], 0.3, ways, null, 0.1)).toMatchObject({ at: [4, 4], kind: 'corner' });
    expect(snap([2.03, 0.2], 0.3, ways, null, 0.1)).toMatchObject({ at: [2.03, 0], kind: 'edge' });
    expect(snap([2.03, 2.04], 0.3, ways, null, 0.1)).toMatchObject({ at: [2, 2], kind: 'grid' });
  });
  it('keeps to north and east of the point before, at round lengths', () => {
    const north = snap([10.1, 20.04], 0.3, [], after([[10, 12]]), 0.1);
    place(north, [10, 20]);
    expect(north).toMatchObject({ kind: 'square', said: ['north'] });
    place(snap([2.46, 11.9], 0.3, [], after([[10, 12]]), 0.1), [2.5, 12]);
  });
  it('keeps a right angle to a side that runs askew, and shows that side', () => {
    // The side runs 3 east and 4 north, 5 m. Right to it is 4 east and 3 south: 4.97 m that way, 0.02 m aside of it.
    const hand: Point = [3 + 0.8 * 4.97 + 0.6 * 0.02, 4 - 0.6 * 4.97 + 0.8 * 0.02];
    const square = snap(hand, 0.3, [], after([[0, 0], [3, 4]]), 0.1); // prettier-ignore
    // 4.97 m is within 0.15 m of the 5 m of the side before.
    place(square, [3 + 4, 4 - 3]);
    expect(square.said).toEqual(['right angle', 'as long as that side']);
    expect(square.guides[0]).toEqual({ from: [0, 0], to: [3, 4] });
  });
  it('keeps parallel to a side of something else, but not from far', () => {
    // A wall that runs 12 east and 5 north, 13 m: one parallel to it from (20, 0) over 6.5 m leads to (26, 2.5).
    const wall: Way[] = [{ way: [[0, 30], [12, 35]], closed: false }]; // prettier-ignore
    const near = snap([26.01, 2.47], 0.3, wall, after([[20, 0]]), 0.1);
    place(near, [26, 2.5]);
    expect(near).toMatchObject({ kind: 'parallel', said: ['parallel'] });
    // 0.2 m aside is more than 0.4 times 0.3 m: the grid.
    expect(snap([26.1, 2.3], 0.3, wall, after([[20, 0]]), 0.1).kind).toBe('grid');
  });
  it('is square with where an outline began', () => {
    // From (2.04, 5) west, with the beginning at (0.04, 1): straight above it, though 2.1 m would be round.
    const closing = snap([-0.06, 5.05], 0.3, [], after([[0.04, 1], [2.04, 1], [2.04, 5]]), 0.1); // prettier-ignore
    place(closing, [0.04, 5]);
    expect(closing.said.at(-1)).toBe('square with the first corner');
    expect(closing.guides.at(-1)).toEqual({ from: [0.04, 5], to: [0.04, 1] });
    // A wall closes nothing.
    const wall = snap([-0.06, 5.05], 0.3, [], after([[0.04, 1], [1.04, 1], [2.04, 5]], false), 0.1); // prettier-ignore
    place(wall, [-0.06, 5]);
  });
  it('leaves a hand alone that keeps to nothing', () => {
    const wall: Way[] = [{ way: [[0, 30], [12, 35]], closed: false }]; // prettier-ignore
    expect(snap([24.03, 3.04], 0.3, wall, after([[20, 0]]), 0.1)).toEqual({
      at: [24, 3],
      kind: 'grid',
      said: [],
      guides: [],
    });
  });
});

describe('the bearing of a side', () => {
  it('is that of the one a place lies on', () => {
    expect(bearingOfSideAt([2, 0], ways)).toBeCloseTo(90);
    expect(bearingOfSideAt([4, 3], ways)).toBeCloseTo(0);
    expect(bearingOfSideAt([2, 2], ways)).toBeNull();
  });
});
