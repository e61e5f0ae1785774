/** Who was there at a visit: as they signed what they did, or as the log of the job names who entered it. */
import type { HistoryEntry } from '../api/shapes';
import { parts, type Patch } from '../lib/pointer';
import { listing } from '../words/spoken.svelte';
import type { FullVisit } from './document';

/** Whoever gave no name. */
const NOBODY = ['', 'somebody'];

/** Names once each, in the order they first come. */
const distinct = (names: string[]) => [...new Set(names)].filter((n) => !NOBODY.includes(n));

/** The names under what was ticked off. */
export const namesIn = (v: Pick<FullVisit, 'done'>): string[] =>
  distinct(Object.values(v.done ?? {}).map((d) => d.by));

/** The visits an edit is of. */
function visitsIn(patch: Patch): string[] {
  return patch.flatMap(({ path, value }) => {
    const [table, id] = parts(path);
    if (table !== 'visits') return [];
    return id === undefined ? Object.keys((value ?? {}) as object) : [id];
  });
}

/** Who made the entries of the log, by visit, added to those known; the log comes newest first. */
export function namesByVisit(
  entries: Pick<HistoryEntry, 'who' | 'patch'>[],
  known: Record<string, string[]> = {},
): Record<string, string[]> {
  const all: Record<string, string[]> = { ...known };
  for (const { who, patch } of [...entries].reverse())
    for (const id of visitsIn(patch as unknown as Patch)) all[id] = distinct([...(all[id] ?? []), who]);
  return all;
}

/** Names behind a visit: ": Ada and Bea"; nothing where nobody is known. */
export const saidBy = (names: string[]) => (names.length ? `: ${listing(names)}` : '');
