/** Edits that move, copy, mirror and arrange one thing or several: worked out here, made by whoever asks. */
import { sameThing, type JobDocument, type Thing } from '../api/document';
import type { Catalogue } from '../api/shapes';
import { aligned, mirrored, mirroredBearing, moved, spread, type Alignment, type Axis } from '../lib/arrange';
import { area, boxOf, distance, minus, onSegment, type Box, type Point } from '../lib/geometry';
import { nextName } from '../lib/naming';
import { offset } from '../lib/offset';
import { applied, at, freeTag, pointer, put, type Patch } from '../lib/pointer';
import type { Way } from '../lib/snapping';
import { stakeMates } from '../lib/stakes';
import { stubsOfTheOnlyRack } from './only-rack';
import { reshaped, shapeOf, shapesOf } from './ways';

/** The job as edits are worked out for: as typed, and as resolved. */
export interface Sheet {
  document: Record<string, unknown>;
  doc: JobDocument;
  catalogue: Catalogue | null;
}

/** The box around all shapes of a thing. */
export const boxOfThing = (doc: JobDocument, thing: Thing): Box | null =>
  boxOf(shapesOf(doc, thing).flatMap((s) => s.points));

/** Things with the loudspeakers that share a stake with one of them. */
function withMates({ doc, catalogue }: Sheet, things: readonly Thing[]): Thing[] {
  const mates = things
    .filter((t) => t.table === 'loudspeakers')
    .flatMap((t) => stakeMates(doc, catalogue, t.id))
    .map((id): Thing => ({ table: 'loudspeakers', id }));
  return [...things, ...mates].filter((t, i, all) => all.findIndex((u) => sameThing(t, u)) === i);
}

const reshapedAll = (
  { doc }: Sheet,
  things: readonly Thing[],
  change: (points: Point[], i: number) => Point[],
): Patch =>
  things.flatMap((thing, i) =>
    shapesOf(doc, thing).flatMap((shape) => reshaped(thing, shape, change(shape.points, i))),
  );

export const movedBy = (sheet: Sheet, things: readonly Thing[], by: Point): Patch =>
  reshapedAll(sheet, withMates(sheet, things), (points) => moved(points, by));

/** The middle of all things together. */
export function middleOf(doc: JobDocument, things: readonly Thing[]): Point {
  const box = boxOf(things.flatMap((t) => shapesOf(doc, t).flatMap((s) => s.points)));
  return box ? [(box.min[0] + box.max[0]) / 2, (box.min[1] + box.max[1]) / 2] : [0, 0];
}

export const mirroredIn = (sheet: Sheet, things: readonly Thing[], axis: Axis): Patch => [
  ...reshapedAll(sheet, things, (points) => mirrored(points, axis)),
  ...things.flatMap((t) => turned(sheet, t, t.id, axis)),
];

/** What turns a loudspeaker as a mirror does. */
function turned({ document, doc }: Sheet, { table, id }: Thing, as: string, axis: Axis): Patch {
  const speaker = table === 'loudspeakers' ? doc.loudspeakers[id] : undefined;
  if (!speaker) return [];
  const deg = Math.round(mirroredBearing(speaker.bearing, axis.bearing_deg) * 100) / 100;
  return put(document, pointer('loudspeakers', as, 'bearing'), deg);
}

/** Copies of things with other points; a loudspeaker's copy hangs on no line yet. */
export function copied(
  sheet: Sheet,
  things: readonly Thing[],
  change: (points: Point[]) => Point[],
  axis: Axis | null = null,
): { patch: Patch; things: Thing[] } {
  const patch: Patch = [];
  const made: Thing[] = [];
  let { document } = sheet;
  const carryOut = (more: Patch) => {
    patch.push(...more);
    document = applied(document, more);
  };
  if (things.some((t) => t.table === 'racks')) carryOut(stubsOfTheOnlyRack(sheet.doc));
  for (const thing of things) {
    const here = at(document, pointer(thing.table, thing.id));
    if (thing.table === 'site' || typeof here !== 'object' || here === null) continue;
    const value: Record<string, unknown> = { ...here };
    for (const shape of shapesOf(sheet.doc, thing)) {
      const points = change(shape.points);
      value[shape.key] = shape.key === 'position' ? points[0] : points;
    }
    if (typeof value.name === 'string' && value.name)
      value.name = nextName(document, thing.table, value.name);
    if (thing.table === 'loudspeakers') delete value.line;
    const id = freeTag(document, thing.table, thing.id.replace(/-?\d+$/, '') || thing.id);
    carryOut(put(document, pointer(thing.table, id), value));
    if (axis) carryOut(turned({ ...sheet, document }, thing, id, axis));
    made.push({ table: thing.table, id });
  }
  return { patch, things: made };
}

export function alignedIn(sheet: Sheet, things: readonly Thing[], how: Alignment): Patch {
  const boxed = things.flatMap((thing) => {
    const box = boxOfThing(sheet.doc, thing);
    return box ? [{ thing, box }] : [];
  });
  const by = aligned(
    boxed.map((b) => b.box),
    how,
  );
  return reshapedAll(
    sheet,
    boxed.map((b) => b.thing),
    (points, i) => moved(points, by[i]!),
  );
}

/** An edge to spread things along or mirror them about: one side of a shape, or the whole of it. */
export interface Edge extends Way {
  /** Side, from 0; `null` for the whole. */
  side: number | null;
}

/** The edge as a way, moved outwards (of a line: to its right); `null` where nothing of it is left. */
export function edgeWay({ way, closed, side }: Edge, out_m: number): Way | null {
  if (side === null) {
    const points = offset(way, closed, out_m);
    return points && { way: points, closed };
  }
  const ends = [way[side]!, way[(side + 1) % way.length]!];
  const right_m = closed && area(way) < 0 ? -out_m : out_m;
  const points = offset(ends, false, right_m);
  return points && { way: points, closed: false };
}

/** Where the nearest place of a way lies along it, m. */
function reach({ way, closed }: Way, p: Point): number {
  const whole = closed ? [...way, way[0]!] : way;
  let [best, far, before] = [0, Infinity, 0];
  for (let i = 0; i + 1 < whole.length; i++) {
    const q = onSegment(p, whole[i]!, whole[i + 1]!);
    if (distance(p, q) < far) [best, far] = [before + distance(whole[i]!, q), distance(p, q)];
    before += distance(whole[i]!, whole[i + 1]!);
  }
  return best;
}

/** Things evenly along a way, in the order in which they stand along it now. */
export function spreadIn(sheet: Sheet, things: readonly Thing[], line: Way, toEnds: boolean): Patch {
  const middles = things.map((t) => middleOf(sheet.doc, [t]));
  const order = things.map((_, i) => i).sort((a, b) => reach(line, middles[a]!) - reach(line, middles[b]!));
  const places = spread(line.way, line.closed, things.length, toEnds);
  return reshapedAll(sheet, things, (points, i) => {
    const by = minus(places[order.indexOf(i)]!, middles[i]!);
    return moved(points, by);
  });
}

/** What lies wholly inside a box. */
export function within(doc: JobDocument, things: readonly Thing[], { min, max }: Box): Thing[] {
  const inside = ([x, y]: Point) => x >= min[0] && x <= max[0] && y >= min[1] && y <= max[1];
  return things.filter((t) => {
    const points = shapesOf(doc, t).flatMap((s) => s.points);
    return points.length > 0 && points.every(inside);
  });
}

/** The side of the nearest of ways, within a distance; a side from 0. */
export function nearestSide<T extends Way>(
  ways: readonly T[],
  at: Point,
  within_m: number,
): (T & { side: number }) | null {
  let best: (T & { side: number }) | null = null;
  let far_m = within_m;
  for (const line of ways) {
    const { way, closed } = line;
    for (let side = 0; side < (closed ? way.length : way.length - 1); side++) {
      const d = distance(at, onSegment(at, way[side]!, way[(side + 1) % way.length]!));
      if (d < far_m) [best, far_m] = [{ ...line, side }, d];
    }
  }
  return best;
}

/** The offset of a thing's outline or line; `null` where nothing of it is left. */
export function offsetOf(doc: JobDocument, thing: Thing, by_m: number): Point[] | null {
  const shape = shapeOf(doc, thing);
  if (shape?.key !== 'outline' && shape?.key !== 'line') return null;
  return offset(shape.points, shape.closed, by_m);
}
