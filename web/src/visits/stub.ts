/** Existing cable on the phone: its pairs told apart, and the loop that was read on one. */
import { freeAt, pairsOf, type Pair } from '../lib/starts';
import { ohms } from '../lib/units';
import { filled, listing, say } from '../words/spoken.svelte';
import { EMPTY_DONE, type Done, type FullVisit } from './document';
import { tickId } from './ids';
import type { Pack } from './shapes';
import { task, type Task } from './task';

/** The entry of a loop that was read, in English as the job keeps it: by its words it is known again. */
export const LOOP =
  'Loop of pair {number} ({positive} and {negative}) joined at {stub}, read at the rack: {ohm}';
const READ = /^Loop of pair (\d+) \((.+) and (.+)\) joined at (.+), read at the rack: (.+)$/;
/** A pair that was found, likewise. */
const FOUND = 'pair {number} ({positive} and {negative}) of {stub} found at both ends';

const valuesOf = ({ number, positive, negative }: Pair, stub: string) => ({
  number,
  positive,
  negative,
  stub,
});

/** The pairs of a stub's cable that may be used. */
export function freePairs(
  { resolved, catalogue }: Pick<Pack, 'resolved' | 'catalogue'>,
  stub: string,
): Pair[] {
  const { pairs } = freeAt(resolved, catalogue, stub);
  return pairsOf(catalogue, resolved.stubs[stub]?.cable ?? '').filter((p) => pairs.includes(p.number));
}

/** A box for each pair: found at both ends, and no other. */
export const pairTasks = (pack: Pick<Pack, 'resolved' | 'catalogue'>, stub: string): Task[] =>
  freePairs(pack, stub).map((p) => ({
    id: tickId(stub, 'pair', String(p.number)),
    done: { work: 'step', at: stub, notes: filled(FOUND, valuesOf(p, stub)) },
    ...task('Pair {number} found at both ends: {colours}', {
      number: p.number,
      colours: listing([p.positive, p.negative]),
    }),
    detail: say(
      'its two conductors joined here, it alone reads at the rack; or a tone or rhythm put on it at the rack is heard on it alone',
    ),
  }));

/** The entry that takes down the loop of a pair: joined at the stub, read at the rack. */
export function loopEntry(stub: string, pair: Pair, ohm: number, by: string): { id: string; done: Done } {
  const notes = filled(LOOP, { ...valuesOf(pair, stub), ohm: ohms(ohm) });
  return {
    id: tickId(stub, 'loop', String(pair.number)),
    done: { ...EMPTY_DONE, work: 'step', at: stub, notes, by },
  };
}

/** A loop that was read, in the language that is spoken. */
function loopWords(notes: string): string {
  const [, number, positive, negative, stub, ohm] = READ.exec(notes) ?? [];
  if (!number || !positive || !negative || !stub || !ohm) return notes;
  return say(LOOP, { number, positive, negative, stub, ohm });
}

/** The loops read at a stub over the visits, the latest first. */
export const loopsRead = (visits: Record<string, FullVisit>, stub: string) =>
  Object.values(visits)
    .flatMap((v) =>
      Object.entries(v.done ?? {})
        .filter(([, d]) => d.at === stub && d.notes.startsWith('Loop of'))
        .map(([id, d]) => ({ id, date: v.date, said: loopWords(d.notes), by: d.by })),
    )
    .sort((a, b) => b.date.localeCompare(a.date));
