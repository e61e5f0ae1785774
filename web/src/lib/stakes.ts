/** Loudspeakers that share a stake: one place, one hole, moved together. */
import type { JobDocument } from '../api/document';
import type { Catalogue } from '../api/shapes';
import { distance, minus, polar, tidy, type Point } from './geometry';
import { pointer, type Patch } from './pointer';

/** Loudspeakers nearer to each other than this are in one place, metres: that of crates/model/src/job/views.rs. */
export const ONE_STAKE_M = 0.05;
/** How far a loudspeaker is put aside that gets a stake of its own, metres. */
const ASIDE_M = 0.3;

/** The loudspeakers in the place of one, itself among them, in the order of the document. */
export const inPlaceOf = ({ loudspeakers }: Pick<JobDocument, 'loudspeakers'>, id: string): string[] => {
  const own = loudspeakers[id];
  if (!own) return [];
  return Object.keys(loudspeakers).filter(
    (other) => other === id || distance(loudspeakers[other]!.position, own.position) <= ONE_STAKE_M,
  );
};

/** The others on the stake of a loudspeaker. */
export function stakeMates(doc: JobDocument, catalogue: Catalogue | null, id: string): string[] {
  const staked = (other: string) => {
    const l = doc.loudspeakers[other]!;
    return (l.mount ?? catalogue?.loudspeakers[l.model]?.mount) === 'stake';
  };
  const place = inPlaceOf(doc, id);
  return place.includes(id) && staked(id) ? place.filter((other) => other !== id && staked(other)) : [];
}

/** The edit that puts a loudspeaker at a place, with the others on its stake. */
export function movedTo(doc: JobDocument, catalogue: Catalogue | null, id: string, at: Point): Patch {
  const by = minus(at, doc.loudspeakers[id]!.position);
  const move = (other: string, to: Point) => ({
    op: 'replace' as const,
    path: pointer('loudspeakers', other, 'position'),
    value: tidy(to),
  });
  const others = stakeMates(doc, catalogue, id).map((other) => {
    const [x, y] = doc.loudspeakers[other]!.position;
    return move(other, [x + by[0], y + by[1]]);
  });
  return [move(id, at), ...others];
}

/** Where a loudspeaker stands once it has a stake of its own: aside, to the right of where it faces. */
export const aside = (doc: JobDocument, id: string): Point => {
  const { position, bearing } = doc.loudspeakers[id]!;
  return tidy(polar(position, ASIDE_M, bearing + 90));
};
