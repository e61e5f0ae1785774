/** Where things of a job are: ends of runs, ways of cable, shapes to snap to. */
import type { JobDocument, Line, Run, Thing } from '../api/document';
import { area, centre, distance, onSegment, tidy, type Point } from '../lib/geometry';
import { pointer, type Patch } from '../lib/pointer';
import type { Way } from '../lib/snapping';

/** Where a run's end stands: a rack, stub, joint or loudspeaker. */
export function endOf(doc: JobDocument, id: string): Point | null {
  const thing = doc.loudspeakers[id] ?? doc.joints[id] ?? doc.racks[id] ?? doc.stubs[id];
  return thing?.position ?? null;
}

/** A run's way in plan; `null` when an end is not there. */
export function runWay(doc: JobDocument, _line: Line, run: Run): Point[] | null {
  const [from, to] = [endOf(doc, run.from), endOf(doc, run.to)];
  return from && to ? [from, ...run.via, to] : null;
}

/** How the shape of a thing is kept: in which key, and whether it closes. */
export interface Shape {
  key: 'outline' | 'line' | 'points' | 'position';
  points: Point[];
  closed: boolean;
}

/** Every shape a thing has, in the order of what it is known by: a neighbour may have a line and points. */
export function shapesOf(doc: JobDocument, thing: Thing): Shape[] {
  if (thing.table === 'site') {
    return doc.site.outline ? [{ key: 'outline', points: doc.site.outline, closed: true }] : [];
  }
  const it = doc[thing.table]?.[thing.id] as
    { outline?: Point[]; line?: Point[] | string | null; points?: Point[]; position?: Point } | undefined;
  const shapes: Shape[] = [];
  if (it?.outline) shapes.push({ key: 'outline', points: it.outline, closed: true });
  if (Array.isArray(it?.line) && it.line.length) shapes.push({ key: 'line', points: it.line, closed: false });
  if (it?.points?.length) shapes.push({ key: 'points', points: it.points, closed: false });
  if (it?.position) shapes.push({ key: 'position', points: [it.position], closed: false });
  return shapes;
}

export const shapeOf = (doc: JobDocument, thing: Thing): Shape | null => shapesOf(doc, thing)[0] ?? null;

/** The edit that gives a thing new points. */
export function reshaped(thing: Thing, shape: Shape, points: Point[]): Patch {
  const value = shape.key === 'position' ? points[0] : points;
  const path = thing.table === 'site' ? '/site' : pointer(thing.table, thing.id);
  return [{ op: 'replace', path: path + pointer(shape.key), value }];
}

/** The middle of a thing, for jumping to it. */
export function placeOf(doc: JobDocument, thing: Thing): Point | null {
  if (thing.table === 'lines') {
    const run = Object.values(doc.lines[thing.id]?.runs ?? {})[0];
    return run ? endOf(doc, run.to) : null;
  }
  const shape = shapeOf(doc, thing);
  if (!shape) return null;
  return shape.closed ? centre(shape.points) : shape.points[Math.floor((shape.points.length - 1) / 2)]!;
}

/** Things one over another in the order a click means them: points and lines as they lie, then outlines, the smallest first. */
export function smallestFirst(doc: JobDocument, things: readonly Thing[]): Thing[] {
  const size = (thing: Thing) => {
    const shape = shapeOf(doc, thing);
    return thing.table !== 'site' && shape?.closed ? Math.abs(area(shape.points)) : 0;
  };
  return [...things].sort((a, b) => size(a) - size(b));
}

/** Everything a drawn point may snap to, but for one thing. */
export function snapWays(doc: JobDocument, but: Thing | null): Way[] {
  const ways: Way[] = [];
  if (doc.site.outline && but?.table !== 'site') ways.push({ way: doc.site.outline, closed: true });
  for (const table of [
    'surfaces',
    'buildings',
    'areas',
    'no_go',
    'walls',
    'services',
    'sleeves',
    'marks',
    'racks',
    'passages',
    'stubs',
    'joints',
  ] as const) {
    for (const id of Object.keys(doc[table])) {
      if (but?.table === table && but.id === id) continue;
      const shape = shapeOf(doc, { table, id });
      if (shape) ways.push({ way: shape.points, closed: shape.closed });
    }
  }
  return ways;
}

/** The stretch of cable nearest to a place, within a distance. */
export function nearestRun(
  doc: JobDocument,
  at: Point,
  within_m: number,
): { line: string; id: string; run: Run; way: Point[]; side: number; at: Point } | null {
  let best: ReturnType<typeof nearestRun> = null;
  let far_m = within_m;
  for (const [line, l] of Object.entries(doc.lines)) {
    for (const [id, run] of Object.entries(l.runs)) {
      const way = runWay(doc, l, run) ?? [];
      for (let side = 0; side + 1 < way.length; side++) {
        const on = onSegment(at, way[side]!, way[side + 1]!);
        if (distance(at, on) < far_m) {
          far_m = distance(at, on);
          best = { line, id, run, way, side, at: tidy(on) };
        }
      }
    }
  }
  return best;
}
