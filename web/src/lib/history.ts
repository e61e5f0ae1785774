/** What an entry of the history changed, with the values before and after, in words. */
import type { JobDocument } from '../api/document';
import { called } from './called';
import type { FormField } from '../ui/Fields.svelte';
import { listing, noted, say } from '../words/spoken.svelte';
import { ABOUT, BRIEF, CLIENT, formOf, WORK } from './forms';
import { parts, type Operation, type Patch } from './pointer';
import { TYPE_OF } from './schema';

/** One place that was changed; a value that is missing was not there. */
export interface Change {
  path: string;
  before?: unknown;
  after?: unknown;
}

/**
 * The places an edit changed. The edit that takes it back has the values before, one operation for each (two for a move, none for
 * a test), the last first. A place that was changed twice is told once.
 */
export function changesOf(patch: Patch, inverse: Patch): Change[] {
  const back = [...inverse].reverse();
  const changes = new Map<string, Change>();
  const tell = (path: string, before: unknown, after: unknown) => {
    const first = changes.get(path);
    changes.set(path, { path, before: first ? first.before : before, after });
  };
  const was = (o: Operation | undefined) => (o && o.op !== 'remove' ? o.value : undefined);
  for (const o of patch) {
    if (o.op === 'test' || (o.op === 'move' && o.from === o.path)) continue;
    if (o.op === 'move') {
      const moved = was(back.shift());
      tell(o.from!, moved, undefined);
      tell(o.path, was(back.shift()), moved);
      continue;
    }
    const undo = back.shift();
    // An item put at the end of a list: its place is known from what takes it away.
    const path = o.path.endsWith('/-') && undo ? undo.path : o.path;
    const copied = o.op === 'copy' ? (changes.get(o.from!)?.after ?? say('a copy')) : o.value;
    tell(path, was(undo), o.op === 'remove' ? undefined : copied);
  }
  const same = (a: unknown, b: unknown) => JSON.stringify(a) === JSON.stringify(b);
  return [...changes.values()].filter((c) => !same(c.before, c.after));
}

const PARTS: Record<string, { name: string; form: FormField[] }> = {
  job: { name: noted('the job').note, form: ABOUT },
  brief: { name: noted('the brief').note, form: BRIEF },
  work: { name: noted('crew and days').note, form: WORK },
  client: { name: noted('the client').note, form: CLIENT },
  site: { name: noted('the site').note, form: [] },
};

function labelOf(form: readonly FormField[], key: string): string {
  const label = say(form.find((f) => f.field === key)?.label ?? key.replaceAll('_', ' '));
  return label[0]!.toLowerCase() + label.slice(1);
}

/** The place of a change, as people say it: "L3, tilt"; "the brief, line voltage". */
export function placeWords(path: string, doc: JobDocument | null): string {
  const [table = '', id = '', ...fields] = parts(path);
  if (table === '') return say('the whole job');
  const part = PARTS[table];
  if (part)
    return [say(part.name), ...[id, ...fields].filter(Boolean).map((k) => labelOf(part.form, k))].join(', ');
  if (id === '') return labelOf([], table);
  const thing = called(doc, { table, id } as Parameters<typeof called>[1]);
  const form = doc && table in TYPE_OF ? formOf(table, doc, null) : [];
  return [
    thing,
    ...fields.map((k) =>
      /^\d+$/.test(k) ? say('no. {number}', { number: Number(k) + 1 }) : labelOf(form, k),
    ),
  ].join(', ');
}

/** Letters of a value that are told; the rest is on its page. */
const LONGEST = 60;

/** A value in words: as it was typed, places as numbers, what has parts by how many. */
export function valueWords(value: unknown): string {
  if (value === undefined || value === null || value === '') return say('nothing');
  if (typeof value === 'boolean') return value ? say('yes') : say('no');
  if (Array.isArray(value)) {
    if (value.every((v) => typeof v !== 'object')) return cut(value.join(', '));
    return value.length === 1 ? say('1 place') : say('{count} places', { count: value.length });
  }
  if (typeof value === 'object') {
    const { name, model } = value as { name?: string; model?: string };
    return cut(name ?? model ?? say('what it held'));
  }
  return cut(String(value as string | number));
}

const cut = (text: string) => (text.length > LONGEST ? `${text.slice(0, LONGEST - 1).trimEnd()}…` : text);

/** A change as a line of the history. */
export function changeWords({ path, before, after }: Change, doc: JobDocument | null): string {
  const place = placeWords(path, doc);
  if (before === undefined) return say('{place}: added, {value}', { place, value: valueWords(after) });
  if (after === undefined)
    return say('{place}: taken out, was {value}', { place, value: valueWords(before) });
  return say('{place}: from {before} to {after}', {
    place,
    before: valueWords(before),
    after: valueWords(after),
  });
}

/** Everybody who made one of these entries, each once, as a sentence has them. */
export function byWhom(entries: readonly { who: string }[]): string {
  const names = [...new Set(entries.map((e) => e.who.trim() || say('somebody')))];
  return names.length ? listing(names) : say('nobody');
}
