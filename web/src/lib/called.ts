/**
 * How things are named to people: by the tag a crew finds on them; where they carry none, by the name somebody gave them, and
 * by their id where nobody gave one.
 */
import type { JobDocument, Thing } from '../api/document';

/** Tables of things that carry no tag on site. */
const UNTAGGED: readonly string[] = [
  'areas',
  'neighbours',
  'surfaces',
  'walls',
  'buildings',
  'no_go',
  'sleeves',
  'programmes',
  'zones',
  'phases',
];

/** A name longer than this is cut: it stands in the middle of a sentence, or of an entry of the history. */
const LONGEST = 60;

/** A name in one line and no longer than so many letters. */
export function cut(name: string, longest = LONGEST): string {
  const plain = name.replace(/\s+/g, ' ').trim();
  return plain.length > longest ? `${plain.slice(0, longest - 1).trimEnd()}…` : plain;
}

export const carriesTag = (table: string) => !UNTAGGED.includes(table);

/** What a thing is called. */
export function called(doc: JobDocument | null, { table, id }: Thing): string {
  if (table === 'site') return 'the outline of the property';
  if (carriesTag(table)) return id;
  const thing = doc?.[table]?.[id] as { name?: string; reason?: string } | undefined;
  return cut(thing?.name || thing?.reason || '') || id;
}

/** The name somebody gave a thing that goes by its tag; empty where it has none, or goes by its name already. */
export function givenName(doc: JobDocument | null, { table, id }: Thing, longest?: number): string {
  if (table === 'site' || !carriesTag(table)) return '';
  const thing = doc?.[table]?.[id] as { name?: string } | undefined;
  const name = cut(thing?.name ?? '', longest);
  return name === id ? '' : name;
}

/** What things are called together, in a sentence. */
export function calledTogether(doc: JobDocument | null, things: readonly Thing[]): string {
  const names = things.map((t) => called(doc, t));
  if (names.length > 3) return `${names.length} things`;
  return names.length < 2 ? (names[0] ?? '') : `${names.slice(0, -1).join(', ')} and ${names.at(-1)}`;
}
