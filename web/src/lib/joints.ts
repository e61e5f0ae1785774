/** A joint put into a run of cable: the run becomes two. */
import type { JobDocument, Thing } from '../api/document';
import { nearestRun } from '../plan/ways';
import type { Point } from './geometry';
import { applied, at as valueAt, freeRunTag, freeTag, pointer, put, type Patch } from './pointer';

/**
 * The edit that puts a joint into the run that lies nearest to a place; `null` where none lies near. The cable stays where it
 * lies; what somebody measured along the whole of it holds for neither part.
 */
export function intoRun(
  document: Record<string, unknown>,
  doc: JobDocument,
  place: Point,
  within_m: number,
): { patch: Patch; thing: Thing } | null {
  const near = nearestRun(doc, place, within_m);
  if (!near) return null;
  const { line, id, run, side, at } = near;
  const joint = freeTag(document, 'joints', 'J');
  const runs = doc.lines[line]!.runs;
  const tag = freeRunTag(document, line, runs);
  const path = pointer('lines', line, 'runs', id);
  const typed = valueAt(document, path) as Record<string, unknown>;
  const { length: _measured, via: _via, ...same } = typed;
  const part = (more: Record<string, unknown>, via: Point[]) => ({
    ...same,
    ...more,
    ...(via.length ? { via } : {}),
  });
  // The corners before the joint go with the first part; the way has one more point in front, its start.
  const made = put(document, pointer('joints', joint), { position: at });
  const patch: Patch = [...made, { op: 'replace', path, value: part({ to: joint }, run.via.slice(0, side)) }];
  patch.push(
    ...put(
      applied(document, patch),
      pointer('lines', line, 'runs', tag),
      part({ from: joint }, run.via.slice(side)),
    ),
  );
  return { patch, thing: { table: 'joints', id: joint } };
}
