/**
 * Where a hand means to put a point: on a corner, on an edge, at a right angle or parallel to a side, as long as a side that is
 * there, square with where the outline began, or on the grid, in that order. What it was drawn to is told with it, to be shown.
 */
import { say } from '../words/spoken.svelte';
import { bearing, distance, minus, onSegment, polar, tidy, type Point } from './geometry';

export type SnapKind = 'corner' | 'edge' | 'square' | 'parallel' | 'grid' | 'free';

/** Something to snap to. */
export interface Way {
  way: readonly Point[];
  closed: boolean;
}

/** A line that shows why a point lies where it lies. */
export interface Guide {
  from: Point;
  to: Point;
}

export interface Snapped {
  at: Point;
  kind: SnapKind;
  /** What it was drawn to, in words. */
  said: string[];
  guides: Guide[];
}

/** What has been drawn so far of the same thing. */
export interface Before {
  /** Its corners; the point to come follows the last. */
  points: readonly Point[];
  /** Whether the way will be closed: the last corner may then be square with the first. */
  closes: boolean;
}

/** Parallels to sides that are there catch a hand from less far than right angles: there are many of them. */
const PARALLEL_SHARE = 0.4;
/** And only where the turn is so small that nobody would have meant another direction, degrees. */
const PARALLEL_DEG = 4;
/** Directions nearer to each other than this are one, degrees. */
const SAME_DEG = 0.05;
/** Sides shorter than this have no direction one sees: those of a curved edge, m. */
const LEAST_SIDE_M = 0.5;

const plain = (at: Point, kind: SnapKind): Snapped => ({ at, kind, said: [], guides: [] });

/** `within_m` is how near is near. */
export function snap(
  p: Point,
  within_m: number,
  ways: readonly Way[],
  before: Before | null,
  grid_m: number,
): Snapped {
  const corner = nearestCorner(p, within_m, ways);
  if (corner) return { ...plain(corner, 'corner'), said: [say('corner')] };
  const edge = nearestEdge(p, within_m, ways);
  if (edge) return { ...plain(tidy(edge), 'edge'), said: [say('on the edge')] };
  const last = before?.points.at(-1);
  if (before && last) {
    const line = lineFrom(p, within_m, last, before, ways);
    if (line) return onLine(p, within_m, last, line, before, grid_m);
  }
  const onGrid = (u: number) => Math.round(u / grid_m) * grid_m;
  return plain(tidy([onGrid(p[0]), onGrid(p[1])]), 'grid');
}

function nearestCorner(p: Point, within_m: number, ways: readonly Way[]): Point | null {
  let [best, far] = [null as Point | null, within_m];
  for (const q of ways.flatMap(({ way }) => way)) {
    const d = distance(p, q);
    if (d < far) [best, far] = [q, d];
  }
  return best;
}

const sidesOf = ({ way, closed }: Way): [Point, Point][] =>
  Array.from({ length: closed ? way.length : Math.max(0, way.length - 1) }, (_, i) => [
    way[i]!,
    way[(i + 1) % way.length]!,
  ]);

function nearestEdge(p: Point, within_m: number, ways: readonly Way[]): Point | null {
  let [best, far] = [null as Point | null, within_m];
  for (const [a, b] of ways.flatMap(sidesOf)) {
    const q = onSegment(p, a, b);
    const d = distance(p, q);
    if (d < far) [best, far] = [q, d];
  }
  return best;
}

/** The bearing of the side a place lies on, 0 up to 180 degrees; `null` where it lies on none. */
export function bearingOfSideAt(at: Point, ways: readonly Way[]): number | null {
  const on = ways
    .flatMap(sidesOf)
    .filter(([a, b]) => distance(a, b) >= LEAST_SIDE_M && distance(at, onSegment(at, a, b)) < 1e-3);
  return on[0] ? bearing(...on[0]) % 180 : null;
}

interface Line {
  bearing_deg: number;
  kind: 'square' | 'parallel';
  said: string;
  /** The side that gave the direction. */
  guides: Guide[];
}

/** Difference of two directions without sense, 0 to 90 degrees. */
function turn(a: number, b: number): number {
  const d = Math.abs(a - b) % 180;
  return Math.min(d, 180 - d);
}

/** The line through the last corner that a hand keeps to; `null` where it keeps to none. */
function lineFrom(
  p: Point,
  within_m: number,
  last: Point,
  { points }: Before,
  ways: readonly Way[],
): Line | null {
  const far = distance(last, p);
  if (far < 1e-9) return null;
  const here = bearing(last, p);
  const off = (deg: number) => far * Math.sin((turn(here, deg) * Math.PI) / 180);
  const first: Line[] = [];
  const prior = points.at(-2);
  if (prior && distance(prior, last) >= 1e-3) {
    const deg = bearing(prior, last);
    const guides = [{ from: prior, to: last }];
    first.push({ bearing_deg: deg + 90, kind: 'square', said: say('right angle'), guides });
    first.push({ bearing_deg: deg, kind: 'parallel', said: say('straight on'), guides });
  }
  first.push({ bearing_deg: 0, kind: 'square', said: say('north'), guides: [] });
  first.push({ bearing_deg: 90, kind: 'square', said: say('east'), guides: [] });
  const nearest = (lines: readonly Line[], most_m: number, most_deg: number) => {
    let best: Line | null = null;
    for (const line of lines) {
      const clearly = best === null || off(line.bearing_deg) < off(best.bearing_deg) - 1e-9;
      const meant = off(line.bearing_deg) < most_m && turn(here, line.bearing_deg) < most_deg;
      if (meant && clearly) best = line;
    }
    return best;
  };
  return (
    nearest(first, within_m, 45) ??
    nearest(directionsOf(last, points, ways), PARALLEL_SHARE * within_m, PARALLEL_DEG)
  );
}

/** Directions along and across every side there is, those of sides near by first, each direction once. */
function directionsOf(last: Point, points: readonly Point[], ways: readonly Way[]): Line[] {
  const sides = [...sidesOf({ way: points, closed: false }), ...ways.flatMap(sidesOf)]
    .filter(([a, b]) => distance(a, b) >= LEAST_SIDE_M)
    .map((side) => ({ side, far: distance(last, onSegment(last, ...side)) }))
    .sort((a, b) => a.far - b.far);
  const lines: Line[] = [];
  for (const { side } of sides) {
    const [from, to] = side;
    for (const [more, kind, said] of [
      [0, 'parallel', say('parallel')],
      [90, 'square', say('right angle')],
    ] as const) {
      const bearing_deg = bearing(from, to) + more;
      if (lines.some((l) => turn(l.bearing_deg, bearing_deg) < SAME_DEG)) continue;
      lines.push({ bearing_deg, kind, said, guides: [{ from, to }] });
    }
  }
  return lines;
}

/** The place on a line a hand means: square with the beginning, as long as another side, or a round length. */
function onLine(
  p: Point,
  within_m: number,
  last: Point,
  line: Line,
  { points, closes }: Before,
  grid_m: number,
): Snapped {
  const u = minus(polar(last, 1, line.bearing_deg), last);
  const reach = (q: Point) => (q[0] - last[0]) * u[0] + (q[1] - last[1]) * u[1];
  const t = reach(p);
  const to = (far_m: number): Point => tidy([last[0] + far_m * u[0], last[1] + far_m * u[1]]);
  const made = (far_m: number, said: string[], guides: Guide[]): Snapped => ({
    at: to(far_m),
    kind: line.kind,
    said: [line.said, ...said],
    guides: [...line.guides, ...guides],
  });
  const first = points[0];
  if (first && closes && points.length >= 2) {
    const far_m = reach(first);
    // Half as far as other things: a length that is typed or round must stay in reach beside it.
    if (Math.abs(far_m) > within_m && Math.abs(t - far_m) < within_m / 2)
      return made(far_m, [say('square with the first corner')], [{ from: to(far_m), to: first }]);
  }
  for (const [a, b] of sidesOf({ way: points, closed: false })) {
    const far_m = Math.sign(t) * distance(a, b);
    if (Math.abs(far_m) > within_m && Math.abs(t - far_m) < within_m / 2)
      return made(far_m, [say('as long as that side')], [{ from: a, to: b }]);
  }
  return made(Math.round(t / grid_m) * grid_m, [], []);
}
