/** A loudspeaker put down by hand: it looks at the nearest area, and is fed like the one chosen before it. */
import { words } from '../../api/client';
import type { Area, JobDocument } from '../../api/document';
import { bearing, type Point } from '../../lib/geometry';
import { freeTag, pointer, put } from '../../lib/pointer';
import { supplyOf } from '../../lib/supply';
import { tapsOf } from '../../lib/taps';
import { putOn } from '../../state/changes';
import type { JobStore } from '../../state/job.svelte';

/** Puts a loudspeaker of a model down, and chooses it. */
export async function stand(store: JobStore, doc: JobDocument, model: string, at: Point): Promise<void> {
  const kind = store.catalogue?.loudspeakers[model]?.kind;
  const id = freeTag(store.document, 'loudspeakers', kind === 'subwoofer' ? 'S' : 'L');
  // It looks at the middle of the nearest area, fed like its neighbours on the first line that is there.
  const target = nearestMiddle(Object.values(doc.areas), at);
  const value: Record<string, unknown> = { model, position: at };
  if (target && kind !== 'subwoofer') value.bearing = Math.round(bearing(at, target)) % 360;
  const line =
    store.selected?.table === 'loudspeakers' ? doc.loudspeakers[store.selected.id]?.line : undefined;
  const taps = tapsOf(store.catalogue, model, supplyOf(doc, line));
  if (taps.length) value.tap = taps[Math.floor((taps.length - 1) / 2)];
  const patch = put(store.document, pointer('loudspeakers', id), value);
  // Fed like the one chosen before it: the server leads the cable of a line that lies already there.
  const made = line
    ? await putOn(store, [id], line, `Place ${id}`, patch).then(
        () => true,
        (e: unknown) => {
          store.complain(words(e));
          return false;
        },
      )
    : await store.try(patch, `Place ${id}`);
  if (made) store.select({ table: 'loudspeakers', id });
}

/** The middle of the corners of the area that is nearest to a place by it. */
export function nearestMiddle(areas: readonly Pick<Area, 'outline'>[], at: Point): Point | null {
  let best: { middle: Point; far: number } | null = null;
  for (const a of areas) {
    const n = a.outline.length;
    const middle: Point = [
      a.outline.reduce((s, p) => s + p[0], 0) / n,
      a.outline.reduce((s, p) => s + p[1], 0) / n,
    ];
    const far = Math.hypot(middle[0] - at[0], middle[1] - at[1]);
    if (!best || far < best.far) best = { middle, far };
  }
  return best?.middle ?? null;
}
