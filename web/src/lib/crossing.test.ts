import { expect, it } from 'vitest';
import { crossings, saidCrossing } from './crossing';
import type { Point } from './geometry';

const square: Point[] = [
  [0, 0],
  [4, 0],
  [4, 4],
  [0, 4],
];
const pairs = (points: Point[], closed = true) => crossings(points, closed).map((c) => [c.first, c.second]);

it('finds nothing in outlines that keep apart', () => {
  expect(pairs(square)).toEqual([]);
  expect(pairs([...square].reverse())).toEqual([]);
  // A notch that comes near and does not touch.
  expect(
    pairs([
      [0, 0],
      [9, 0],
      [9, 9],
      [5, 0.01],
      [0, 9],
    ]),
  ).toEqual([]);
});

it('finds the sides of a bow that cross, and where', () => {
  const bow: Point[] = [
    [0, 0],
    [4, 4],
    [4, 0],
    [0, 4],
  ];
  expect(pairs(bow, false)).toEqual([[1, 3]]);
  // By hand: the diagonals of a square of 4 m meet in its middle.
  expect(crossings(bow, false)[0]!.at).toEqual([2, 2]);
  expect(saidCrossing(crossings(bow, true)[0]!, 4)).toBe('Side 1 and side 3 meet');
});

it('finds the closing side across another, a corner on a side, and a side that lies back on the one before', () => {
  const hook: Point[] = [
    [0, 0],
    [6, 0],
    [6, 3],
    [3, -1],
  ];
  expect(pairs(hook, false)).toEqual([[1, 3]]);
  // The side that closes it, from (8, 0) back along the axis, crosses the upright at (5, 0).
  const late: Point[] = [
    [0, 0],
    [5, 5],
    [5, -5],
    [8, 0],
  ];
  expect(pairs(late, false)).toEqual([]);
  expect(crossings(late, true)).toEqual([{ first: 2, second: 4, at: [5, 0] }]);
  expect(saidCrossing(crossings(late, true)[0]!, 4)).toBe('Side 2 and the side that closes the outline meet');
  expect(
    pairs([
      [0, 0],
      [8, 0],
      [8, 4],
      [4, 0],
      [0, 4],
    ]),
  ).toEqual([
    [1, 3],
    [1, 4],
  ]);
  expect(
    pairs([
      [0, 0],
      [8, 0],
      [3, 0],
      [3, 5],
    ]).some(([a, b]) => a === 1 && b === 2),
  ).toBe(true);
});
