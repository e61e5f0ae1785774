/**
 * The map from one plane to another as a camera sees it, from four points and where they lie: eight equations for the eight
 * ratios of a 3 by 3 matrix (Hartley and Zisserman, Multiple View Geometry, second edition, section 4.1), points moved to
 * their middle and scaled first, so that the equations are well conditioned (section 4.4). Not looked at: what a lens bends.
 */
import { area, minus, type Point } from './geometry';

/** Row by row. */
export type Matrix3 = readonly [number, number, number, number, number, number, number, number, number];
export type Quad = readonly [Point, Point, Point, Point];

/** Three of four points this near to one line, as a share of the whole: the fourth says nothing sure. */
const THIN = 0.01;

/** Whether four points, in their order, are the corners of something without a dent, and not nearly on one line. */
export function isConvex(quad: Quad): boolean {
  const whole = area(quad);
  return quad.every((p, i) => {
    const corner = area([p, quad[(i + 1) % 4]!, quad[(i + 2) % 4]!]);
    return corner * whole > 0 && Math.abs(corner) > THIN * Math.abs(whole);
  });
}

/** The map that takes four points to four others; `null` where either four have a dent or lie on a line. */
export function homography(from: Quad, to: Quad): Matrix3 | null {
  if (!isConvex(from) || !isConvex(to)) return null;
  const [a, b] = [normaliser(from), normaliser(to)];
  const rows: number[][] = [];
  from.forEach((p, i) => {
    const [x, y] = mapped(a, p);
    const [u, v] = mapped(b, to[i]!);
    rows.push([x, y, 1, 0, 0, 0, -u * x, -u * y, u], [0, 0, 0, x, y, 1, -v * x, -v * y, v]);
  });
  const h = solved(rows);
  if (!h) return null;
  const whole = times(times(inverse(b), [...h, 1] as unknown as Matrix3), a);
  // The middle lies before the camera: everything else that does has the same sign.
  const [x, y] = middle(from);
  const w = whole[6] * x + whole[7] * y + whole[8];
  return whole.map((m) => m / w) as unknown as Matrix3;
}

/** Where a point goes; `null` for what lies on or behind the horizon. */
export function seen(h: Matrix3, [x, y]: Point): Point | null {
  const w = h[6] * x + h[7] * y + h[8];
  return w > 1e-9 ? mapped(h, [x, y]) : null;
}

function mapped(h: Matrix3, [x, y]: Point): Point {
  const w = h[6] * x + h[7] * y + h[8];
  return [(h[0] * x + h[1] * y + h[2]) / w, (h[3] * x + h[4] * y + h[5]) / w];
}

const middle = (points: readonly Point[]): Point => [
  points.reduce((sum, p) => sum + p[0], 0) / points.length,
  points.reduce((sum, p) => sum + p[1], 0) / points.length,
];

/** Moves the middle of points to nought and brings them to a mean distance of the root of two. */
function normaliser(points: readonly Point[]): Matrix3 {
  const [x, y] = middle(points);
  const mean = points.reduce((sum, p) => sum + Math.hypot(...minus(p, [x, y])), 0) / points.length;
  const s = Math.SQRT2 / mean;
  return [s, 0, -s * x, 0, s, -s * y, 0, 0, 1];
}

const times = (a: Matrix3, b: Matrix3): Matrix3 =>
  [0, 3, 6].flatMap((r) =>
    [0, 1, 2].map((c) => a[r]! * b[c]! + a[r + 1]! * b[c + 3]! + a[r + 2]! * b[c + 6]!),
  ) as unknown as Matrix3;

/** The way back, but for a factor. */
export function inverse([a, b, c, d, e, f, g, h, i]: Matrix3): Matrix3 {
  const m = [
    e * i - f * h,
    c * h - b * i,
    b * f - c * e,
    f * g - d * i,
    a * i - c * g,
    c * d - a * f,
    d * h - e * g,
    b * g - a * h,
    a * e - b * d,
  ];
  const det = a * m[0]! + b * m[3]! + c * m[6]!;
  return m.map((x) => x / det) as unknown as Matrix3;
}

/** Gauss, with the largest of each column first; the last of each row is its right side. `null` where there is no one answer. */
function solved(rows: number[][]): number[] | null {
  const n = rows.length;
  for (let c = 0; c < n; c++) {
    let best = c;
    for (let r = c + 1; r < n; r++) if (Math.abs(rows[r]![c]!) > Math.abs(rows[best]![c]!)) best = r;
    if (Math.abs(rows[best]![c]!) < 1e-12) return null;
    [rows[c], rows[best]] = [rows[best]!, rows[c]!];
    for (let r = 0; r < n; r++) {
      if (r === c) continue;
      const share = rows[r]![c]! / rows[c]![c]!;
      for (let k = c; k <= n; k++) rows[r]![k]! -= share * rows[c]![k]!;
    }
  }
  return rows.map((row, i) => row[n]! / row[i]!);
}

/** Lengths of the sides of four points, one after the other, and from the first across to the third. */
export interface Taped {
  sides: [number, number, number, number];
  across: number;
}

/** A rectangle as it would be taped. */
export const rectangleOf = (length_m: number, width_m: number): Taped => ({
  sides: [length_m, width_m, length_m, width_m],
  across: Math.hypot(length_m, width_m),
});

/**
 * The four points of what was taped: the first at nought, the second east of it, the others to the left of that side, or to
 * the right. `null` where the lengths close to nothing.
 */
export function quadOf({ sides: [a, b, c, d], across }: Taped, left: boolean): Quad | null {
  const third = meet(a, across, b);
  const fourth = meet(across, d, c);
  if (!third || !fourth) return null;
  // The fourth lies beyond the line across, seen from the second.
  const [u, v] = [third[0] / across, third[1] / across];
  const four: Quad = [[0, 0], [a, 0], third, [u * fourth[0] - v * fourth[1], v * fourth[0] + u * fourth[1]]];
  const turned = left ? four : (four.map(([x, y]) => [x, -y]) as unknown as Quad);
  return isConvex(turned) ? turned : null;
}

/** The third corner of a triangle whose first two are `base` apart: so far from the first, so far from the second. */
function meet(base: number, first: number, second: number): Point | null {
  const x = (base * base + first * first - second * second) / (2 * base);
  const square = first * first - x * x;
  return square > 0 ? [x, Math.sqrt(square)] : null;
}
