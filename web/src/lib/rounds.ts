/**
 * Shapes drawn in two or a few strokes, kept as the points everything else reads: rectangles, circles and curved edges.
 *
 * A round edge becomes straight sides that leave it by at most `tolerance_m`: the sagitta of an arc of radius r over a side
 * that sees the centre under an angle a is r (1 - cos(a / 2)). Corners lie on the edge, so an outline is a little smaller than
 * what was drawn, never larger.
 */
import { distance, minus, onSegment, polar, tidy, type Point } from './geometry';

/** How far a round edge and its sides may be apart, m: less than a spade follows. Smaller means more corners to drag. */
export const ROUND_M = 0.02;

/** A circle never has fewer sides: with four it would look like a square. */
const LEAST_SIDES = 12;
/** Nor more: at a radius of 100 m the sides are 0.05 m off and one still drags a corner that one sees. */
const MOST_SIDES = 96;
/** A span of a curve is halved so often at most: 64 sides a span. */
const MOST_HALVINGS = 6;

/** The rectangle between opposite corners, two sides of which run at a bearing; `null` where it would have no inside. */
export function rectangle(a: Point, b: Point, bearing_deg = 90): Point[] | null {
  const u = minus(polar(a, 1, bearing_deg), a);
  const d = minus(b, a);
  const along = d[0] * u[0] + d[1] * u[1];
  const across = d[1] * u[0] - d[0] * u[1];
  if (Math.abs(along) < 1e-3 || Math.abs(across) < 1e-3) return null;
  const p: Point = [a[0] + along * u[0], a[1] + along * u[1]];
  const q: Point = [b[0] - along * u[0], b[1] - along * u[1]];
  return [a, p, b, q].map(tidy);
}

/** The corner opposite `a` of a rectangle with these sides; `width_m` to the right of the bearing, negative to its left. */
export const opposite = (a: Point, length_m: number, width_m: number, bearing_deg: number): Point =>
  polar(polar(a, length_m, bearing_deg), width_m, bearing_deg + 90);

/** How many sides a circle needs, a multiple of four: its corners then lie north, east, south and west too. */
export function sidesOf(radius_m: number, tolerance_m = ROUND_M): number {
  const cos = Math.max(-1, 1 - tolerance_m / radius_m);
  const sides = 4 * Math.ceil(Math.PI / Math.acos(cos) / 4);
  return Math.min(MOST_SIDES, Math.max(LEAST_SIDES, sides));
}

/** A circle as its corners, from the north clockwise; `null` where it has no inside. */
export function circle(centre: Point, radius_m: number, tolerance_m = ROUND_M): Point[] | null {
  if (!(radius_m >= 1e-3)) return null;
  const n = sidesOf(radius_m, tolerance_m);
  return Array.from({ length: n }, (_, i) => tidy(polar(centre, radius_m, (360 * i) / n)));
}

/**
 * A smooth way through points (Catmull-Rom with the knots spaced by the square root of the distance, Lee 1989: it makes
 * neither loops nor cusps between two points), as straight sides. The points themselves are among its corners.
 */
export function curve(points: readonly Point[], closed: boolean, tolerance_m = ROUND_M): Point[] {
  const n = points.length;
  if (n < 3) return points.map(tidy);
  const at = (i: number): Point => {
    if (closed) return points[(i + n) % n]!;
    if (i < 0) return beyond(points[1]!, points[0]!);
    return i < n ? points[i]! : beyond(points[n - 2]!, points[n - 1]!);
  };
  const out: Point[] = [];
  for (let i = 0; i < (closed ? n : n - 1); i++) {
    const span = spanOf(at(i - 1), at(i), at(i + 1), at(i + 2));
    out.push(at(i), ...between(span, 0, 1, tolerance_m, MOST_HALVINGS));
  }
  if (!closed) out.push(points[n - 1]!);
  return out.map(tidy);
}

/** The point as far on the other side of `to`. */
const beyond = (from: Point, to: Point): Point => [2 * to[0] - from[0], 2 * to[1] - from[1]];

/** The curve from `b` (0) to `c` (1), by the pyramid of Barry and Goldman (1988). */
function spanOf(a: Point, b: Point, c: Point, d: Point): (u: number) => Point {
  const knot = (from: number, p: Point, q: Point) => from + Math.max(1e-6, Math.sqrt(distance(p, q)));
  const [t0, t1] = [0, knot(0, a, b)];
  const t2 = knot(t1, b, c);
  const t3 = knot(t2, c, d);
  const mix = (p: Point, q: Point, from: number, to: number, t: number): Point => {
    const w = (t - from) / (to - from);
    return [p[0] + w * (q[0] - p[0]), p[1] + w * (q[1] - p[1])];
  };
  return (u) => {
    const t = t1 + u * (t2 - t1);
    const [ab, bc, cd] = [mix(a, b, t0, t1, t), mix(b, c, t1, t2, t), mix(c, d, t2, t3, t)];
    return mix(mix(ab, bc, t0, t2, t), mix(bc, cd, t1, t3, t), t1, t2, t);
  };
}

/** Points of a curve between two of its places, so many that the sides between them leave it by no more than is said. */
function between(
  span: (u: number) => Point,
  from: number,
  to: number,
  tolerance_m: number,
  left: number,
): Point[] {
  const [a, b] = [span(from), span(to)];
  const quarters = [0.25, 0.5, 0.75].map((w) => span(from + w * (to - from)));
  const off = Math.max(...quarters.map((p) => distance(p, onSegment(p, a, b))));
  if (off <= tolerance_m || left === 0) return [];
  const mid = (from + to) / 2;
  return [
    ...between(span, from, mid, tolerance_m, left - 1),
    quarters[1]!,
    ...between(span, mid, to, tolerance_m, left - 1),
  ];
}
