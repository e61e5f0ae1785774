/** Names for what nobody has named yet: by what it is and how many there are of it, never by an id. */
import type { Table } from '../api/document';
import { noted, type Noted } from '../words/spoken.svelte';

/** What a thing of a table is by itself. Things that carry a tag on site go by that, and a no-go place by its reason. */
const PLAIN: Partial<Record<Table | 'site', string>> = {
  areas: 'Listening area',
  neighbours: 'Neighbour',
  buildings: 'Building',
  sleeves: 'Sleeve',
  surfaces: 'Surface',
  walls: 'Wall',
};
const OF_KIND: Partial<Record<Table | 'site', Record<string, string>>> = { walls: { masonry: 'Wall' } };

const capital = (word: string) => word.charAt(0).toUpperCase() + word.slice(1);

/** What a thing is, in a word or two, in English and to whoever names it; `null` where it is not known by a name. */
function plainName(table: Table | 'site', kind: string | null): Noted | null {
  const plain = PLAIN[table];
  if (!plain) return null;
  const { note, said } = noted(kind ? (OF_KIND[table]?.[kind] ?? kind) : plain);
  return { note: capital(note), said: capital(said) };
}

const namesIn = (document: Record<string, unknown>, table: string) =>
  Object.values((document[table] ?? {}) as Record<string, { name?: unknown }>).map((t) => t.name);

/** A name that is not taken: "Bed" begets "Bed 2". */
export function nextName(document: Record<string, unknown>, table: string, name: string): string {
  const taken = namesIn(document, table);
  const stem = name.replace(/ \d+$/, '');
  for (let n = 2; ; n++) if (!taken.includes(`${stem} ${n}`)) return `${stem} ${n}`;
}

/** The name a new thing begins with; `null` where it needs none. */
export function firstName(
  document: Record<string, unknown>,
  table: Table | 'site',
  kind: string | null,
): string | null {
  const plain = plainName(table, kind)?.said;
  if (!plain) return null;
  return namesIn(document, table).includes(plain) ? nextName(document, table, plain) : plain;
}

/** The name that follows a change of kind, where the one it has was nobody's choice; `null` where that stays. */
export function renamed(
  document: Record<string, unknown>,
  table: Table,
  id: string,
  kind: string,
): string | null {
  const thing = ((document[table] ?? {}) as Record<string, { name?: string; kind?: string }>)[id];
  const plain = thing?.kind && plainName(table, thing.kind);
  if (!plain || !PLAIN[table]) return null;
  const stem = thing?.name?.replace(/ \d+$/, '');
  if (stem !== plain.said && stem !== plain.note) return null;
  return firstName(document, table, kind);
}
