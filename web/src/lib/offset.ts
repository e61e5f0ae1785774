/**
 * An outline or a way moved sideways by a distance: a path around a house, the edge of a bed along a wall.
 *
 * Every side is moved at right angles to itself and the moved sides are met with their neighbours. A side that would then run
 * backwards has been used up: it goes, and its neighbours meet instead. Sharp corners are cut off where they would stick out
 * farther than twice the distance. What would meet itself all the same is refused, not mended.
 */
import { crossings } from './crossing';
import { area, distance, minus, tidy, type Point } from './geometry';

/** A corner farther than this many distances from where it was is cut off: corners sharper than 60 degrees. */
const LONGEST_SPIKE = 2;
/** Sides whose directions differ by less than this (sine of the angle) count as one line. */
const ONE_LINE = 1e-6;

interface Side {
  /** A point on it, and where it runs to: a unit. */
  at: Point;
  along: Point;
  /** Where it ran from before: the corner that may be cut. */
  was: Point;
}

/** An outline moved outwards (negative: inwards), or a way moved to its right; `null` where nothing of it would be left. */
export function offset(points: readonly Point[], closed: boolean, by_m: number): Point[] | null {
  const corners = distinct(points, closed);
  if (corners.length < (closed ? 3 : 2)) return null;
  if (by_m === 0) return corners.map(tidy);
  // Outwards is to the right of an outline that goes counter-clockwise.
  const right_m = closed && area(corners) < 0 ? -by_m : by_m;
  let sides = moved(corners, closed, right_m);
  for (;;) {
    if (sides.length < (closed ? 3 : 1)) return null;
    const out = met(sides, closed, right_m, corners.at(-1)!);
    const used = backwards(sides, out.ends);
    if (used === null) {
      const way = out.points.map(tidy);
      const turned = closed && Math.sign(area(way)) !== Math.sign(area(corners));
      return turned || crossings(way, closed).length ? null : way;
    }
    sides = sides.filter((_, i) => i !== used);
  }
}

/** Corners without those that lie on the one before. */
function distinct(points: readonly Point[], closed: boolean): Point[] {
  const out = points.filter((p, i) => i === 0 || distance(p, points[i - 1]!) > 1e-6);
  if (closed && out.length > 1 && distance(out[0]!, out.at(-1)!) <= 1e-6) out.pop();
  return out;
}

function moved(corners: readonly Point[], closed: boolean, right_m: number): Side[] {
  const n = corners.length;
  return Array.from({ length: closed ? n : n - 1 }, (_, i) => {
    const [a, b] = [corners[i]!, corners[(i + 1) % n]!];
    const far = distance(a, b);
    const along: Point = [(b[0] - a[0]) / far, (b[1] - a[1]) / far];
    return { at: [a[0] + along[1] * right_m, a[1] - along[0] * right_m], along, was: a };
  });
}

/** The corners where sides meet, and where each of them then begins and ends. */
function met(sides: readonly Side[], closed: boolean, right_m: number, last: Point) {
  const n = sides.length;
  const ends = sides.map(() => ({ from: [0, 0] as Point, to: [0, 0] as Point }));
  const points: Point[] = [];
  for (let i = 0; i < n; i++) {
    const side = sides[i]!;
    if (i === 0 && !closed) {
      ends[0]!.from = side.at;
      points.push(side.at);
      continue;
    }
    const before = sides[(i - 1 + n) % n]!;
    const corner = cornerOf(before, side, right_m);
    ends[(i - 1 + n) % n]!.to = corner[0]!;
    ends[i]!.from = corner.at(-1)!;
    points.push(...corner);
  }
  if (!closed) {
    const { along } = sides[n - 1]!;
    const to: Point = [last[0] + along[1] * right_m, last[1] - along[0] * right_m];
    ends[n - 1]!.to = to;
    points.push(to);
  }
  return { points, ends };
}

function cornerOf(before: Side, side: Side, right_m: number): Point[] {
  const across = before.along[0] * side.along[1] - before.along[1] * side.along[0];
  // In one line, or turned right back: the sides' own ends.
  if (Math.abs(across) < ONE_LINE) return [side.at];
  const w = minus(side.at, before.at);
  const t = (w[0] * side.along[1] - w[1] * side.along[0]) / across;
  const corner: Point = [before.at[0] + t * before.along[0], before.at[1] + t * before.along[1]];
  const most_m = LONGEST_SPIKE * Math.abs(right_m);
  const spike_m = distance(corner, side.was);
  const sticksOut = right_m > 0 === across > 0;
  if (!sticksOut || spike_m <= most_m) return [corner];
  // Cut square to the spike, at the most it may stick out.
  const out: Point = [(corner[0] - side.was[0]) / spike_m, (corner[1] - side.was[1]) / spike_m];
  const cut = (along: Point, sign: number): Point => {
    const s = (spike_m - most_m) / (out[0] * along[0] + out[1] * along[1]);
    return [corner[0] - sign * Math.abs(s) * along[0], corner[1] - sign * Math.abs(s) * along[1]];
  };
  return [cut(before.along, 1), cut(side.along, -1)];
}

/** The side that runs backwards farthest; `null` where none does. */
function backwards(sides: readonly Side[], ends: readonly { from: Point; to: Point }[]): number | null {
  let [worst, far] = [null as number | null, -1e-9];
  sides.forEach(({ along }, i) => {
    const d = minus(ends[i]!.to, ends[i]!.from);
    const run = d[0] * along[0] + d[1] * along[1];
    if (run < far) [worst, far] = [i, run];
  });
  return worst;
}
