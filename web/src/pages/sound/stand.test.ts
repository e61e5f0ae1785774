import { expect, it } from 'vitest';
import type { Point } from '../../lib/geometry';
import { nearestMiddle } from './stand';

it('looks at the area whose middle is nearest', () => {
  const square = (x: number, y: number): { outline: Point[] } => ({
    outline: [
      [x - 1, y - 1],
      [x + 1, y - 1],
      [x + 1, y + 1],
      [x - 1, y + 1],
    ],
  });
  expect(nearestMiddle([square(0, 0), square(10, 0)], [7, 2])).toEqual([10, 0]);
  expect(nearestMiddle([square(0, 0), square(10, 0)], [4, -2])).toEqual([0, 0]);
  expect(nearestMiddle([], [0, 0])).toBeNull();
});
