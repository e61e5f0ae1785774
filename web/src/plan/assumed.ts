/** What a thing that was drawn began with though nobody said it: no figure stands in a job without a word. */
import type { JobDocument, Thing } from '../api/document';
import type { Catalogue } from '../api/shapes';
import { formOf } from '../lib/forms';
import { at, pointer } from '../lib/pointer';
import { fieldSpec, TYPE_OF } from '../lib/schema';
import { shown } from '../lib/units';
import { prefs } from '../state/prefs.svelte';
import { say } from '../words/spoken.svelte';

/** The quantities that stand at a thing just drawn, as a sentence; `null` where there are none. */
export function assumed(
  document: Record<string, unknown>,
  doc: JobDocument,
  catalogue: Catalogue | null,
  { table, id }: Thing,
): string | null {
  const value = at(document, pointer(table, id));
  const type = TYPE_OF[table];
  if (table === 'site' || !type || typeof value !== 'object' || value === null) return null;
  const told = formOf(table, doc, catalogue).flatMap(({ field, label }) => {
    const { kind, quantity } = fieldSpec(type, field);
    const stands = (value as Record<string, unknown>)[field];
    if (kind !== 'quantity' || stands === undefined) return [];
    const name = say(label);
    return `${name[0]!.toLowerCase()}${name.slice(1)} ${shown(stands, quantity, prefs.unit)}`;
  });
  return told.length
    ? say('Filled in as usual: {figures}. Put in what holds here.', { figures: told.join(', ') })
    : null;
}
