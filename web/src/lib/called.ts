/**
 * How things are named to people: by the tag a crew finds on them; where they carry none, by the name somebody gave them, and
 * by their id where nobody gave one.
 */
import type { JobDocument, Thing } from '../api/document';
import { noted, type Noted } from '../words/spoken.svelte';

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

/** A name that is the same in every language. */
const alike = (name: string): Noted => ({ note: name, said: name });

/** What a thing is called, in an entry of the log and to whoever reads. */
export function named(doc: JobDocument | null, { table, id }: Thing): Noted {
  if (table === 'site') return noted('the outline of the property');
  if (carriesTag(table)) return alike(id);
  const thing = doc?.[table]?.[id] as { name?: string; reason?: string } | undefined;
  return alike(cut(thing?.name || thing?.reason || '') || id);
}

/** The name somebody gave a thing that goes by its tag; empty where it has none, or goes by its name already. */
export function givenName(doc: JobDocument | null, { table, id }: Thing, longest?: number): string {
  if (table === 'site' || !carriesTag(table)) return '';
  const thing = doc?.[table]?.[id] as { name?: string } | undefined;
  const name = cut(thing?.name ?? '', longest);
  return name === id ? '' : name;
}

/** What a thing is called. */
export const called = (doc: JobDocument | null, thing: Thing): string => named(doc, thing).said;

/** What things are called together, in an entry of the log and in a sentence. */
export function namedTogether(doc: JobDocument | null, things: readonly Thing[]): Noted {
  if (things.length > 3) return noted('{count} things', { count: things.length });
  const names = things.map((t) => called(doc, t));
  if (names.length < 2) return alike(names[0] ?? '');
  return noted('{first} and {last}', { first: names.slice(0, -1).join(', '), last: names.at(-1)! });
}
