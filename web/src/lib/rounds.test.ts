import { describe, expect, it } from 'vitest';
import { area, distance, onSegment, type Point } from './geometry';
import { circle, curve, opposite, rectangle, ROUND_M, sidesOf } from './rounds';

const near = (p: Point, q: Point) => {
  expect(p[0]).toBeCloseTo(q[0], 4);
  expect(p[1]).toBeCloseTo(q[1], 4);
};

describe('a rectangle', () => {
  it('lies along north and east between two corners', () => {
    expect(rectangle([1, 2], [5, 4])).toEqual([
      [1, 2],
      [5, 2],
      [5, 4],
      [1, 4],
    ]);
  });
  it('lies along a side that is turned', () => {
    // A side to the north-east (45 degrees) of sqrt 8 m ends at (2, 2); sqrt 2 m to its left from there is (1, 3).
    const corners = rectangle([0, 0], [1, 3], 45)!;
    near(corners[1]!, [2, 2]);
    near(corners[2]!, [1, 3]);
    near(corners[3]!, [-1, 1]);
    // Sides sqrt 8 and sqrt 2: 4 m2.
    expect(Math.abs(area(corners))).toBeCloseTo(4, 3);
  });
  it('has an inside or is none', () => {
    expect(rectangle([0, 0], [4, 0])).toBeNull();
    expect(rectangle([2, 2], [2, 2])).toBeNull();
  });
  it('is typed: 4 m to the east, 3 m to the right of that, which is south', () => {
    near(opposite([1, 1], 4, 3, 90), [5, -2]);
    near(opposite([1, 1], 4, -3, 90), [5, 4]);
  });
});

describe('a circle', () => {
  it('has corners on it, north, east, south and west among them', () => {
    const corners = circle([10, 20], 2)!;
    const n = corners.length;
    expect(n % 4).toBe(0);
    near(corners[0]!, [10, 22]);
    near(corners[n / 4]!, [12, 20]);
    near(corners[n / 2]!, [10, 18]);
    near(corners[(3 * n) / 4]!, [8, 20]);
    for (const p of corners) expect(distance(p, [10, 20])).toBeCloseTo(2, 3);
  });
  it('is left by its sides by no more than is said: the middle of a side lies r cos(180 deg / n) from the centre', () => {
    for (const r of [0.3, 1, 2.5, 6, 15]) {
      const n = sidesOf(r);
      expect(r - r * Math.cos(Math.PI / n)).toBeLessThanOrEqual(ROUND_M);
    }
    // 3 m and 0.02 m: 180 / acos(1 - 0.02 / 3) in degrees is 180 / 6.6187 = 27.2, so 28.
    expect(sidesOf(3)).toBe(28);
    // 0.1 m: 180 / acos(0.8) = 180 / 36.87 = 4.9, so 8, and at least 12.
    expect(sidesOf(0.1)).toBe(12);
  });
  it('has a radius or is none', () => {
    expect(circle([0, 0], 0)).toBeNull();
    expect(circle([0, 0], Number.NaN)).toBeNull();
  });
});

describe('a curved edge', () => {
  const BED: Point[] = [
    [0, 0],
    [6, -1],
    [9, 4],
    [3, 6],
  ];
  it('goes through every point, in their order', () => {
    for (const closed of [true, false]) {
      const way = curve(BED, closed);
      const places = BED.map((p) => way.findIndex((q) => distance(p, q) < 1e-9));
      expect(places).toEqual([...places].sort((a, b) => a - b));
      expect(places[0]).toBe(0);
      expect(way.length).toBeGreaterThan(2 * BED.length);
    }
    expect(curve(BED, false).at(-1)).toEqual([3, 6]);
  });
  it('stays straight between points on one line', () => {
    const line: Point[] = [
      [0, 0],
      [2, 1],
      [6, 3],
    ];
    expect(curve(line, false)).toEqual(line);
  });
  it('through the corners of a square keeps its four-fold turn', () => {
    const square: Point[] = [
      [1, 1],
      [-1, 1],
      [-1, -1],
      [1, -1],
    ];
    const way = curve(square, true);
    // A quarter turn takes (x, y) to (-y, x): every corner has its like.
    for (const [x, y] of way) expect(Math.min(...way.map((q) => distance(q, [-y, x])))).toBeLessThan(1e-3);
    // With equal spans the middle of one is (9 (b + c) - (a + d)) / 16: here (0, (18 + 2) / 16) = (0, 1.25).
    expect(Math.min(...way.map((q) => distance(q, [0, 1.25])))).toBeLessThan(1e-3);
  });
  it('has more corners the finer it is to be, and leaves the finer one by no more than is said', () => {
    const [rough, fine] = [curve(BED, true, 0.05), curve(BED, true, 0.0005)];
    expect(fine.length).toBeGreaterThan(rough.length);
    for (const p of fine) {
      const off = Math.min(
        ...rough.map((q, i) => distance(p, onSegment(p, q, rough[(i + 1) % rough.length]!))),
      );
      // Looked at in three places of each side: a little more lies between them.
      expect(off).toBeLessThan(0.05 * 1.2);
    }
  });
  it('with two points is the side between them', () => {
    expect(curve(BED.slice(0, 2), false)).toEqual(BED.slice(0, 2));
  });
});
