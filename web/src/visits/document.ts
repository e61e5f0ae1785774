/** Edits of visits on the two forms of a document: as typed, and as checked. */
import type { JobDocument, Reading, Visit } from '../api/document';
import { applied, at, pointer, put, takeOut, type Patch } from '../lib/pointer';
import type { Edit, Pack, Put, VisitHead } from './shapes';

/** Work ticked off. */
export interface Done {
  work: 'joint' | 'opened' | 'placed' | 'tap' | 'hole' | 'laid' | 'step';
  at: string | null;
  line: string | null;
  run: string | null;
  tap: number | null;
  by: string;
  notes: string;
}
export interface PhotoEntry {
  file: string;
  at: string | null;
  notes: string;
}
export type MeterReading = Reading;
/** A line as it was while something was measured or done, kept by the visit because it has been replaced or changed since. */
export interface KeptLine {
  line: string;
  /** False where the line stayed and something on it was changed; not in what was taken along by an earlier version. */
  replaced?: boolean;
  readings: string[];
  done: string[];
  photos: string[];
}
/** A visit with everything this page shows of it. */
export type FullVisit = Omit<Visit, 'readings'> & {
  readings: Record<string, MeterReading>;
  done: Record<string, Done>;
  photos: Record<string, PhotoEntry>;
  /** Not in what was taken along by an earlier version. */
  lines?: Record<string, KeptLine>;
};

/** The id under which a visit keeps the line that an entry is of; `null` for an entry of what is still there. */
export function keptOf(v: FullVisit, table: 'readings' | 'done' | 'photos', id: string): string | null {
  return Object.entries(v.lines ?? {}).find(([, k]) => k[table].includes(id))?.[0] ?? null;
}

/** Whether an entry is of a line that was replaced: of one that was only changed its ticks still hold. */
export function isOfReplaced(v: FullVisit, table: 'readings' | 'done' | 'photos', id: string): boolean {
  const kept = keptOf(v, table, id);
  return kept !== null && v.lines?.[kept]?.replaced !== false;
}

/** The readings a visit took of a line that still is what it was. */
export const readingsOf = (v: FullVisit | undefined, line: string): [string, MeterReading][] =>
  Object.entries(v?.readings ?? {}).filter(([id, r]) => r.line === line && !keptOf(v!, 'readings', id));

export const visitsOf = (doc: JobDocument) => doc.visits as unknown as Record<string, FullVisit>;

export const EMPTY_VISIT = {
  ground_temperature: null,
  readings: {},
  levels: {},
  meters: {},
  done: {},
  photos: {},
  lines: {},
  notes: '',
};
export const EMPTY_READING: MeterReading = {
  line: '',
  at: null,
  impedance: null,
  frequency: null,
  dc: null,
  leakage: null,
  level: null,
  above: false,
};
export const EMPTY_DONE: Omit<Done, 'work'> = {
  at: null,
  line: null,
  run: null,
  tap: null,
  by: '',
  notes: '',
};

/** Whether a phone made the id of a visit up. */
const isOwn = (id: string) => /^V-\d{8}-/.test(id);

/**
 * The visit of the same day and kind that the office made, which a phone's own joins as long as nothing of it is in the job and
 * nobody began it on purpose; `null` where there is none.
 */
export function joins(
  visits: Record<string, Pick<FullVisit, 'date' | 'kind'>>,
  { id, date, kind, apart }: VisitHead,
): VisitHead | null {
  if (apart || !isOwn(id) || id in visits) return null;
  const office = Object.entries(visits).find(([of, v]) => !isOwn(of) && v.date === date && v.kind === kind);
  return office ? { id: office[0], date, kind } : null;
}

/** Where a value goes in the document. */
export const placeOf = (edit: Pick<Edit, 'visit'>, put: Pick<Put, 'path' | 'in'>) =>
  put.in === 'job' ? put.path : pointer('visits', edit.visit.id) + put.path;

/** The operations that carry an edit out on a document as typed: the visit is made when it is not there. */
export function patchOf(document: Record<string, unknown>, edit: Pick<Edit, 'visit' | 'puts'>): Patch {
  const { id, date, kind } = edit.visit;
  const path = pointer('visits', id);
  const patch: Patch = [];
  let here = document;
  const add = (more: Patch) => {
    patch.push(...more);
    here = applied(here, more);
  };
  if (at(here, path) === undefined && edit.puts.some((p) => !p.in)) add(put(here, path, { date, kind }));
  for (const p of edit.puts) {
    const place = placeOf(edit, p);
    add(p.typed === undefined ? takeOut(here, place) : put(here, place, p.typed));
  }
  return patch;
}

/** Both forms with an edit carried out. */
export function applyPuts(
  pack: Pick<Pack, 'document' | 'resolved'>,
  edit: Pick<Edit, 'visit' | 'puts'>,
): Pick<Pack, 'document' | 'resolved'> {
  const { id, date, kind } = edit.visit;
  const document = applied(pack.document, patchOf(pack.document, edit));
  const path = pointer('visits', id);
  let resolved = pack.resolved;
  if (at(resolved, path) === undefined && edit.puts.some((p) => !p.in)) {
    resolved = applied(resolved, put(resolved, path, { ...EMPTY_VISIT, date, kind }));
  }
  for (const p of edit.puts) {
    const place = placeOf(edit, p);
    const more = p.typed === undefined ? takeOut(resolved, place) : put(resolved, place, p.resolved);
    resolved = applied(resolved, more);
  }
  return { document, resolved };
}

/** What stands where a value of an edit goes. */
export const valueAt = (document: unknown, edit: Pick<Edit, 'visit'>, put: Pick<Put, 'path' | 'in'>) =>
  at(document, placeOf(edit, put));

/** The same value, whatever the order of its keys. */
export function same(a: unknown, b: unknown): boolean {
  if (a === b) return true;
  if (typeof a !== 'object' || typeof b !== 'object' || a === null || b === null) return false;
  if (Array.isArray(a) !== Array.isArray(b)) return false;
  const [x, y] = [Object.keys(a), Object.keys(b)];
  return (
    x.length === y.length &&
    x.every((k) => same((a as Record<string, unknown>)[k], (b as Record<string, unknown>)[k]))
  );
}

/** Whether two ticks say the same, whoever ticked. */
function sameTick(a: unknown, b: unknown): boolean {
  const bare = (v: unknown) =>
    typeof v === 'object' && v !== null && 'work' in v ? { ...v, by: undefined } : v;
  return same(bare(a), bare(b));
}

/** What an edit meets on the newest document: nothing, what it says already, or something else. */
export function meets(
  document: Record<string, unknown>,
  edit: Pick<Edit, 'visit' | 'puts'>,
): { kind: 'clear' } | { kind: 'there' } | { kind: 'conflict'; put: Put; theirs: unknown } {
  let there = edit.puts.length > 0;
  for (const p of edit.puts) {
    const theirs = valueAt(document, edit, p);
    if (sameTick(theirs, p.typed)) continue;
    there = false;
    if (!same(theirs, p.was)) return { kind: 'conflict', put: p, theirs };
  }
  return { kind: there ? 'there' : 'clear' };
}
