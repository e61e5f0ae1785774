/**
 * Which part of the plan a map is asked for. A map of a whole estate has its places many metres apart; where the plan is looked at
 * from near, the part that is seen is asked for instead, with as many places on it.
 */
import type { Bounds } from '../api/live';
import type { Frame } from '../lib/frame';
import type { Box } from '../lib/geometry';

/** Places of a whole map farther apart than this on the screen hide what lies between them, px on a usual screen. */
const COARSE_PX = 14;
/** How much of the width of what is seen is asked for beyond each edge: a small move of the plan needs no new map. */
const AROUND = 0.25;
/** Parts begin and end on lines this share of their width apart, so that looking to and fro asks for the same ones. */
const GRID = 0.25;

/** What is seen, metres. */
export function seenBox(
  view: { unproject: (p: [number, number]) => [number, number] },
  width: number,
  height: number,
): Box {
  const [west, north] = view.unproject([0, 0]);
  const [east, south] = view.unproject([width, height]);
  return { min: [west, south], max: [east, north] };
}

const holds = ([west, south, east, north]: Bounds, { min, max }: Box) =>
  west <= min[0] && south <= min[1] && east >= max[0] && north >= max[1];

const meet = (box: Box, whole: Box): Box | null => {
  const min: Box['min'] = [Math.max(box.min[0], whole.min[0]), Math.max(box.min[1], whole.min[1])];
  const max: Box['max'] = [Math.min(box.max[0], whole.max[0]), Math.min(box.max[1], whole.max[1])];
  return min[0] < max[0] && min[1] < max[1] ? { min, max } : null;
};

/**
 * The part to ask for; `null` for the whole. `whole`: the frame of the whole plan; `k`: pixels per metre; `now`: the part asked
 * for at last, which stays as long as it has all that is seen and is not far too large.
 */
export function partFor(
  seen: Box,
  whole: Pick<Frame, 'x0_m' | 'y0_m' | 'columns' | 'rows' | 'spacing_m'>,
  k: number,
  scale: number,
  now: Bounds | null,
): Bounds | null {
  if (whole.spacing_m * k <= COARSE_PX * scale) return null;
  const far = (first: number, count: number) => first + (count - 1) * whole.spacing_m;
  const drawn: Box = {
    min: [whole.x0_m, whole.y0_m],
    max: [far(whole.x0_m, whole.columns), far(whole.y0_m, whole.rows)],
  };
  const part = meet(seen, drawn);
  if (!part) return null;
  const width = Math.max(part.max[0] - part.min[0], part.max[1] - part.min[1]);
  // One that is twice as wide as it need be is coarser than it need be.
  if (now && holds(now, part) && now[2] - now[0] <= 2 * width * (1 + 2 * AROUND)) return now;
  const step = 2 ** Math.round(Math.log2(width * GRID));
  const down = (u: number) => Math.floor((u - AROUND * width) / step) * step;
  const up = (u: number) => Math.ceil((u + AROUND * width) / step) * step;
  const wanted: Box = {
    min: [down(part.min[0]), down(part.min[1])],
    max: [up(part.max[0]), up(part.max[1])],
  };
  const asked = meet(wanted, drawn)!;
  const bounds: Bounds = [asked.min[0], asked.min[1], asked.max[0], asked.max[1]];
  return holds(bounds, drawn) ? null : bounds;
}
