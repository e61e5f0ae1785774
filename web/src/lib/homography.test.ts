import { describe, expect, it } from 'vitest';
import { distance, type Point } from './geometry';
import { homography, inverse, isConvex, quadOf, rectangleOf, seen, type Quad } from './homography';

/**
 * The same map in closed form, without a system of equations: unit square to any four points (Heckbert, Fundamentals of Texture
 * Mapping and Image Warping, 1989, section 2.2.3).
 */
function fromUnitSquare([p0, p1, p2, p3]: Quad) {
  const [dx1, dx2, sx] = [p1[0] - p2[0], p3[0] - p2[0], p0[0] - p1[0] + p2[0] - p3[0]];
  const [dy1, dy2, sy] = [p1[1] - p2[1], p3[1] - p2[1], p0[1] - p1[1] + p2[1] - p3[1]];
  const det = dx1 * dy2 - dx2 * dy1;
  const g = (sx * dy2 - dx2 * sy) / det;
  const h = (dx1 * sy - sx * dy1) / det;
  return ([u, v]: Point): Point => {
    const w = g * u + h * v + 1;
    return [
      ((p1[0] - p0[0] + g * p1[0]) * u + (p3[0] - p0[0] + h * p3[0]) * v + p0[0]) / w,
      ((p1[1] - p0[1] + g * p1[1]) * u + (p3[1] - p0[1] + h * p3[1]) * v + p0[1]) / w,
    ];
  };
}

/** A camera without a lens that looks down on level ground: where a place is in its picture, pixels. */
function camera(height_m: number, down_deg: number, focal_px: number) {
  const a = (down_deg * Math.PI) / 180;
  return ([x, y]: Point): Point => {
    const depth = y * Math.cos(a) + height_m * Math.sin(a);
    const below = height_m * Math.cos(a) - y * Math.sin(a);
    return [2000 + (focal_px * x) / depth, 1500 + (focal_px * below) / depth];
  };
}

const quad = (points: Point[]) => points as unknown as Quad;
const UNIT = quad([
  [0, 0],
  [1, 0],
  [1, 1],
  [0, 1],
]);
const near = (a: Point | null, b: Point, within: number) => expect(distance(a!, b)).toBeLessThan(within);

describe('the map of four points', () => {
  const to = quad([
    [120, 80],
    [940, 60],
    [760, 540],
    [205, 610],
  ]);
  it('is that of the closed form, everywhere', () => {
    const [h, other] = [homography(UNIT, to)!, fromUnitSquare(to)];
    for (const u of [0, 0.1, 0.37, 0.5, 0.92, 1, 1.3])
      for (const v of [0, 0.2, 0.66, 1, 1.1]) near(seen(h, [u, v]), other([u, v]), 1e-9);
  });
  it('finds the ground again that a camera has seen, far beyond the four points', () => {
    const project = camera(9, 35, 2400);
    const ground = quad([
      [-4, 8],
      [5, 9],
      [6, 16],
      [-3, 14],
    ]);
    const h = homography(quad(ground.map(project)), ground)!;
    for (const x of [-9, -2, 0, 7]) for (const y of [4, 10, 22]) near(seen(h, project([x, y])), [x, y], 1e-8);
    // Above the horizon there is no ground.
    expect(seen(h, [2000, 1500 - 2400 * Math.tan((35 * Math.PI) / 180) - 50])).toBeNull();
  });
  it('goes back by its inverse', () => {
    const h = homography(UNIT, to)!;
    for (const p of [
      [0.2, 0.3],
      [0.8, 0.9],
    ] as Point[])
      near(seen(inverse(h), seen(h, p)!), p, 1e-9);
  });
  it('also turns a picture over', () => {
    const mirrored = quad([to[1], to[0], to[3], to[2]]);
    near(seen(homography(UNIT, mirrored)!, [0, 0]), to[1], 1e-9);
  });
  it('is none where the four have a dent or lie on one line', () => {
    const dent = quad([
      [0, 0],
      [4, 0],
      [1, 1],
      [0, 4],
    ]);
    const flat = quad([
      [0, 0],
      [1, 0],
      [2, 0.001],
      [0, 1],
    ]);
    for (const bad of [dent, flat]) {
      expect(isConvex(bad)).toBe(false);
      expect(homography(bad, UNIT)).toBeNull();
      expect(homography(UNIT, bad)).toBeNull();
    }
  });
});

describe('four points that were taped', () => {
  it('are a rectangle of two lengths', () => {
    expect(quadOf(rectangleOf(8, 6), true)!.map((p) => p.map((c) => Number(c.toFixed(9))))).toEqual([
      [0, 0],
      [8, 0],
      [8, 6],
      [0, 6],
    ]);
    expect(quadOf(rectangleOf(8, 6), false)![2]![1]).toBeCloseTo(-6, 9);
  });
  it('have the lengths they were taped with', () => {
    const taped = { sides: [9, 5.5, 7.2, 6.1] as [number, number, number, number], across: 10 };
    const points = quadOf(taped, true)!;
    taped.sides.forEach((side, i) => expect(distance(points[i]!, points[(i + 1) % 4]!)).toBeCloseTo(side, 9));
    expect(distance(points[0], points[2])).toBeCloseTo(10, 9);
  });
  it('are none where the lengths do not close', () => {
    expect(quadOf({ sides: [9, 1, 9, 1], across: 20 }, true)).toBeNull();
  });
});
