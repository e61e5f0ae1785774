/** Photos of the site, pinned to places on the plan. They belong to visits, from the first look on. */
import type { JobDocument } from '../api/document';
import { distance, type Point } from './geometry';
import { freeId, pointer, put, type Patch } from './pointer';

export interface SitePhoto {
  /** The visit it was taken on. */
  visit: string;
  id: string;
  /** Number on its pin. */
  number: number;
  date: string;
  file: string;
  position: Point;
  notes: string;
}

/** Every photo that has a place, the oldest first. */
export function sitePhotos(doc: JobDocument): SitePhoto[] {
  const all = Object.entries(doc.visits).flatMap(([visit, v]) =>
    Object.entries(v.photos ?? {}).flatMap(([id, p]) =>
      p.position
        ? [{ visit, id, date: v.date, file: p.file, position: p.position, notes: p.notes, number: 0 }]
        : [],
    ),
  );
  all.sort((a, b) => (a.date < b.date ? -1 : a.date > b.date ? 1 : 0));
  return all.map((p, i) => ({ ...p, number: i + 1 }));
}

/** The photo whose pin stands nearest to a place, within reach. */
export function photoAt(photos: readonly SitePhoto[], at: Point, within_m: number): SitePhoto | null {
  let best: SitePhoto | null = null;
  for (const p of photos) {
    const d = distance(p.position, at);
    if (d <= within_m && (!best || d < distance(best.position, at))) best = p;
  }
  return best;
}

export const photoPath = (p: Pick<SitePhoto, 'visit' | 'id'>, ...more: string[]) =>
  pointer('visits', p.visit, 'photos', p.id, ...more);

/**
 * The edit that keeps a photo with the visit of a day; where there is none of that day, one is made: a first look while nothing
 * was built yet, upkeep afterwards.
 */
export function photoPatch(
  document: Record<string, unknown>,
  doc: JobDocument,
  { day, id, file, position }: { day: string; id: string; file: string; position: Point },
): Patch {
  const photo = { file, position };
  const today = Object.entries(doc.visits).find(([, v]) => v.date === day)?.[0];
  if (today) return put(document, pointer('visits', today, 'photos', id), photo);
  const built = Object.values(doc.visits).some((v) => v.kind !== 'survey');
  const visit = freeId(document.visits as object | undefined, 'V');
  const value = { date: day, kind: built ? 'maintenance' : 'survey', photos: { [id]: photo } };
  return put(document, pointer('visits', visit), value);
}
