import { describe, expect, it } from 'vitest';
import { area, bearing, centre, inside, polar, snap, type Point } from './geometry';

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

describe('snapping', () => {
  const ways = [{ way: SQUARE, closed: true }];
  it('prefers a corner to an edge, an edge to the grid', () => {
    expect(snap([3.9, 3.95], 0.3, ways, null, 0.1)).toEqual({ at: [4, 4], kind: 'corner' });
    expect(snap([2.03, 0.2], 0.3, ways, null, 0.1)).toEqual({ at: [2.03, 0], kind: 'edge' });
    expect(snap([2.03, 2.04], 0.3, ways, null, 0.1)).toEqual({ at: [2, 2], kind: 'grid' });
  });
  it('keeps a right angle to the point before', () => {
    expect(snap([10.1, 20.04], 0.3, [], [10, 12], 0.1)).toEqual({ at: [10, 20], kind: 'square' });
  });
});
