/** What a proposal cannot do without and a house can give: where the cables leave, and somewhere to fix loudspeakers. */
import type { JobDocument } from '../api/document';
import { called } from './called';
import { say } from '../words/spoken.svelte';
import { centre, distance, onSegment, polar, bearing, tidy, type Point } from './geometry';
import { applied, freeTag, pointer, put, type Patch } from './pointer';

export interface FillIn {
  /** What it puts in, a sentence each. */
  told: string[];
  patch: Patch;
}

/** Surfaces that take loudspeakers where nobody says otherwise, as proposals have it: of a lawn its edge. */
const TAKES_THEM = ['bed', 'gravel', 'soil', 'woodland', 'lawn'];
/** How far in front of its wall a rack's cables come out, m: outside for certain, and still at the house. */
const BEFORE_THE_WALL_M = 0.2;

/** What is filled in so that a design can be proposed; `null` where nothing is missing, or no house can give it. */
export function fillIn(document: Record<string, unknown>, doc: JobDocument): FillIn | null {
  const area = Object.values(doc.areas)[0];
  if (!area) return null;
  const heard = centre(area.outline);
  const house = nearestHouse(doc, heard);
  if (!house) return null;
  const told: string[] = [];
  let patch: Patch = [];
  const name = called(doc, { table: 'buildings', id: house.id });
  if (!Object.keys(doc.racks).length) {
    const position = tidy(polar(house.at, BEFORE_THE_WALL_M, bearing(house.at, heard)));
    patch = put(document, pointer('racks', freeTag(document, 'racks', 'R')), { position });
    told.push(say('The rack: where the wall of {name} is nearest to the first listening area.', { name }));
  }
  if (!takesLoudspeakers(document)) {
    const soFar = applied(document, patch);
    patch = [...patch, ...put(soFar, pointer('buildings', house.id, 'loudspeakers'), true)];
    told.push(say('Loudspeakers may be fixed to {name}: no ground, wall or house takes them yet.', { name }));
  }
  return told.length ? { told, patch } : null;
}

/** The house whose wall is nearest to a place outside it, and where. */
function nearestHouse(doc: JobDocument, to: Point): { id: string; at: Point } | null {
  let best: { id: string; at: Point } | null = null;
  for (const [id, { outline }] of Object.entries(doc.buildings)) {
    outline.forEach((corner, i) => {
      const at = onSegment(to, corner, outline[(i + 1) % outline.length]!);
      if (!best || distance(at, to) < distance(best.at, to)) best = { id, at };
    });
  }
  return best;
}

function takesLoudspeakers(document: Record<string, unknown>): boolean {
  const said = (table: string) =>
    Object.values((document[table] ?? {}) as Record<string, { loudspeakers?: boolean; kind?: string }>);
  const ground = said('surfaces').some((s) => s.loudspeakers ?? TAKES_THEM.includes(s.kind ?? ''));
  return ground || [...said('walls'), ...said('buildings')].some((thing) => thing.loudspeakers);
}
