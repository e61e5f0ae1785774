import { describe, expect, it } from 'vitest';
import { area, bearing, centre, inside, polar, type Point } from './geometry';

const SQUARE: Point[] = [
  [0, 0],
  [4, 0],
  [4, 4],
  [0, 4],
];

describe('plan geometry', () => {
  it('measures outlines', () => {
    expect(area(SQUARE)).toBe(16);
    expect(centre(SQUARE)).toEqual([2, 2]);
    expect(inside([1, 1], SQUARE)).toBe(true);
    expect(inside([5, 1], SQUARE)).toBe(false);
  });
  it('turns bearings clockwise from north, and back', () => {
    expect(bearing([0, 0], [1, 0])).toBeCloseTo(90);
    expect(bearing([0, 0], [-1, 0])).toBeCloseTo(270);
    const [x, y] = polar([1, 1], 2, 90);
    expect(x).toBeCloseTo(3);
    expect(y).toBeCloseTo(1);
  });
});
