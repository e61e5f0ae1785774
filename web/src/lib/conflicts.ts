/** What two people changed at once, in the words of the forms: no key of the file is told. */
import type { JobDocument, Table } from '../api/document';
import type { Catalogue } from '../api/shapes';
import type { FormField } from '../ui/Fields.svelte';
import { called } from './called';
import { ABOUT, BRIEF, CLIENT, formOf, NAMES, WORK } from './forms';
import { parts } from './pointer';
import { length, type LengthUnit } from './units';

/** Of these there is one in a job: what they are called, and what is asked for in them. */
const ALONE: Record<string, { name: string; fields: FormField[] }> = {
  job: { name: 'the job', fields: ABOUT },
  brief: { name: 'the brief', fields: BRIEF },
  work: { name: 'the plan of work', fields: WORK },
  client: { name: 'the client', fields: CLIENT },
  site: { name: 'the site', fields: [] },
};
/** What is drawn and not typed, as it is told. */
const SHAPES: Record<string, string> = {
  outline: 'Outline',
  line: 'Line',
  points: 'Places',
  position: 'Place',
  via: 'Way',
};
/** No more of a whole thing is told, letters. */
const LONGEST = 400;

/** What was changed: the thing, what of it (empty where it is all of it), and how its values are told. */
export interface Changed {
  thing: string;
  what: string;
  said(value: unknown, unit: LengthUnit): string;
}

export function changedAt(doc: JobDocument | null, catalogue: Catalogue | null, path: string): Changed {
  const [table = '', ...below] = parts(path);
  const alone = ALONE[table];
  const [id = '', ...keys] = alone ? ['', ...below] : below;
  const fields = alone?.fields ?? (doc ? formOf(table, doc, catalogue) : []);
  const several = NAMES[table]?.[1].toLowerCase() ?? 'the job';
  const label = (key: string) => labelOf(key, fields);
  return {
    thing: alone?.name ?? (id ? called(doc, { table: table as Table, id }) : several),
    what: keys.map(label).join(', '),
    said: (value, unit) => said(value, keys.at(-1) ?? '', label, unit).slice(0, LONGEST),
  };
}

function labelOf(key: string, fields: readonly FormField[]): string {
  // A thing may have a field called like a shape: a loudspeaker's line is one it hangs on.
  const known = fields.find((f) => f.field === key)?.label ?? SHAPES[key];
  const plain = key.replaceAll('_', ' ');
  return known ?? plain.charAt(0).toUpperCase() + plain.slice(1);
}

function said(value: unknown, key: string, label: (key: string) => string, unit: LengthUnit): string {
  if (value === undefined || value === null) return 'taken out';
  if (typeof value === 'boolean') return value ? 'yes' : 'no';
  if (Array.isArray(value)) {
    const lengths = value.map((each) => (typeof each === 'number' ? length(each, unit) : String(each)));
    if (key === 'position') return `${lengths[0]} east, ${lengths[1]} north`;
    return key in SHAPES ? `${value.length} points` : value.join(', ');
  }
  if (typeof value === 'object')
    return Object.entries(value)
      .map(([each, of]) => `${label(each)}: ${said(of, each, label, unit)}`)
      .join('; ');
  return String(value);
}
