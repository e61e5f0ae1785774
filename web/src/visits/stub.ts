/** Existing cable on the phone: its pairs told apart, and the loop that was read on one. */
import { freeAt, pairsOf, type Pair } from '../lib/starts';
import { ohms } from '../lib/units';
import { EMPTY_DONE, type Done, type FullVisit } from './document';
import { tickId } from './ids';
import type { Pack } from './shapes';
import type { Task } from './work';

/** What the entry of a loop that was read begins with. */
const LOOP = 'Loop of';

const pairName = (p: Pair) => `pair ${p.number} (${p.positive} and ${p.negative})`;

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
    done: { work: 'step', at: stub, notes: `${pairName(p)} of ${stub} found at both ends` },
    label: `Pair ${p.number} found at both ends: ${p.positive} and ${p.negative}`,
    detail:
      'its two conductors joined here, it alone reads at the rack; or a tone or rhythm put on it at the rack is heard on it alone',
  }));

/** The entry that takes down the loop of a pair: joined at the stub, read at the rack. */
export function loopEntry(stub: string, pair: Pair, ohm: number, by: string): { id: string; done: Done } {
  const notes = `${LOOP} ${pairName(pair)} joined at ${stub}, read at the rack: ${ohms(ohm)}`;
  return {
    id: tickId(stub, 'loop', String(pair.number)),
    done: { ...EMPTY_DONE, work: 'step', at: stub, notes, by },
  };
}

/** The loops read at a stub over the visits, the latest first. */
export const loopsRead = (visits: Record<string, FullVisit>, stub: string) =>
  Object.values(visits)
    .flatMap((v) =>
      Object.entries(v.done ?? {})
        .filter(([, d]) => d.at === stub && d.notes.startsWith(LOOP))
        .map(([id, d]) => ({ id, date: v.date, said: d.notes, by: d.by })),
    )
    .sort((a, b) => b.date.localeCompare(a.date));
