/** Several shapes put in order: moved, mirrored, in line, evenly along a side; and sides given a length. */
import { distance, minus, polar, tidy, wayLength, type Box, type Point } from './geometry';

export const moved = (points: readonly Point[], by: Point): Point[] =>
  points.map((p) => tidy([p[0] + by[0], p[1] + by[1]]));

/** A line to mirror about. */
export interface Axis {
  at: Point;
  bearing_deg: number;
}

/** Points as a mirror on a line shows them. */
export function mirrored(points: readonly Point[], { at, bearing_deg }: Axis): Point[] {
  const u = minus(polar(at, 1, bearing_deg), at);
  return points.map((p) => {
    const d = minus(p, at);
    const along = d[0] * u[0] + d[1] * u[1];
    return tidy([at[0] + 2 * along * u[0] - d[0], at[1] + 2 * along * u[1] - d[1]]);
  });
}

/** Where something that looks along a bearing looks in the mirror. */
export const mirroredBearing = (bearing_deg: number, axis_deg: number) =>
  (((2 * axis_deg - bearing_deg) % 360) + 360) % 360;

export type Alignment = 'west' | 'east' | 'north' | 'south' | 'column' | 'row';

/** How far each box has to go so that all are in line: at the outermost of their edges, or at the middle of all. */
export function aligned(boxes: readonly Box[], how: Alignment): Point[] {
  const axis = how === 'west' || how === 'east' || how === 'column' ? 0 : 1;
  const low = Math.min(...boxes.map((b) => b.min[axis]));
  const high = Math.max(...boxes.map((b) => b.max[axis]));
  const away = ({ min, max }: Box) => {
    if (how === 'west' || how === 'south') return low - min[axis];
    if (how === 'east' || how === 'north') return high - max[axis];
    return (low + high - min[axis] - max[axis]) / 2;
  };
  return boxes.map((b) => (axis === 0 ? [away(b), 0] : [0, away(b)]));
}

/**
 * `n` places at equal distances along a way: from end to end, or half a distance from either end, so that each has as much of
 * the way as the others. Around an outline there is no end: the first place is where it begins.
 */
export function spread(way: readonly Point[], closed: boolean, n: number, toEnds: boolean): Point[] {
  const whole = closed ? [...way, way[0]!] : way;
  const all_m = wayLength(whole);
  const gaps = toEnds && !closed && n > 1 ? n - 1 : n;
  const first = closed || (toEnds && n > 1) ? 0 : 0.5;
  return Array.from({ length: n }, (_, i) => tidy(along(whole, (all_m * (i + first)) / gaps)));
}

/** The place so far along a way. */
export function along(way: readonly Point[], far_m: number): Point {
  let left = far_m;
  for (let i = 0; i + 1 < way.length; i++) {
    const [a, b] = [way[i]!, way[i + 1]!];
    const side = distance(a, b);
    if (side > 0 && (left <= side || i + 2 === way.length)) {
      const w = Math.min(1, left / side);
      return [a[0] + w * (b[0] - a[0]), a[1] + w * (b[1] - a[1])];
    }
    left -= side;
  }
  return way.at(-1)!;
}

/** Sides whose directions differ by less than this (sine of the angle) are parallel: 0.06 degrees. */
const PARALLEL = 1e-3;

/**
 * An outline or way with one side as long as was typed. Its far corner goes along it. In a way all that follows goes with it;
 * in an outline the next side does, where the one after runs parallel to this one, so that right angles stay.
 */
export function withSide(points: readonly Point[], closed: boolean, side: number, length_m: number): Point[] {
  const n = points.length;
  const at = (i: number) => points[i % n]!;
  const [a, b] = [at(side), at(side + 1)];
  const was = distance(a, b);
  if (was === 0) return [...points];
  const by: Point = [((b[0] - a[0]) / was) * (length_m - was), ((b[1] - a[1]) / was) * (length_m - was)];
  const along = new Set([(side + 1) % n]);
  if (!closed) for (let i = side + 2; i < n; i++) along.add(i);
  else if (n > 3 && isParallel(minus(b, a), minus(at(side + 3), at(side + 2)))) along.add((side + 2) % n);
  return points.map((p, i) => (along.has(i) ? tidy([p[0] + by[0], p[1] + by[1]]) : p));
}

function isParallel(u: Point, v: Point): boolean {
  const sizes = Math.hypot(...u) * Math.hypot(...v);
  return sizes > 0 && Math.abs(u[0] * v[1] - u[1] * v[0]) < PARALLEL * sizes;
}
