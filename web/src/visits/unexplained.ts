/** What is said where no single fault explains the readings: by how much they differ from what the nearest would give. */
import type { LocateAnswer } from '../api/shapes';
import { jointOf } from '../lib/place';
import { ohms } from '../lib/units';
import { say } from '../words/spoken.svelte';
import { atWords } from './words';

/** A reading beside what the nearest single fault would give; `null` for an open line. */
export interface Compared {
  at: string | null;
  frequency_hz: number;
  read_ohm: number | null;
  would_ohm: number | null;
}

/** Nearer than this to what it would be, a reading is not told to differ. */
const ALIKE = 0.02;

const shown = (ohm: number | null) => (ohm === null ? say('an open line') : ohms(ohm));

/** How one value stands to another, as people say it: "67 % less", "3.2 times as much". */
function apart(read: number, would: number): string {
  const ratio = read / would;
  if (ratio >= 2) return say('{times} times as much', { times: ratio.toFixed(1) });
  const percent = Math.round(100 * Math.abs(ratio - 1));
  return ratio < 1 ? say('{percent} % less', { percent }) : say('{percent} % more', { percent });
}

function compared({ at, frequency_hz, read_ohm, would_ohm }: Compared): string {
  const where = `${at === null ? say('At the rack') : say('At {at}, looking away from the rack', { at })}, ${atWords(frequency_hz)}`;
  const both = read_ohm !== null && would_ohm !== null && would_ohm > 0;
  if (read_ohm === would_ohm || (both && Math.abs(read_ohm / would_ohm - 1) < ALIKE))
    return say('{where}, the meter shows {shown}, as it would.', { where, shown: shown(read_ohm) });
  const off = both ? `, ${apart(read_ohm, would_ohm)}` : '';
  return say('{where}, the meter shows {shown}{off} where it would show {would}.', {
    where,
    shown: shown(read_ohm),
    off,
    would: shown(would_ohm),
  });
}

export const unexplainedWords = (all: Compared[]): string =>
  [
    say('No single fault explains these readings. Held against the fault that comes nearest:'),
    ...all.map(compared),
    say(
      'Check the meter, its leads and which line is on it; if they are right, several things are wrong at once.',
    ),
  ].join(' ');

type Diagnosis = LocateAnswer['located']['diagnosis'];

/** The readings of an answer of the office beside what the fault that comes nearest predicts. */
export function comparedIn({ unexplained, explanations }: Diagnosis): Compared[] {
  const nearest = JSON.stringify(unexplained?.nearest);
  const of =
    explanations.find((e) => JSON.stringify(e.fault) === nearest) ??
    [...explanations].sort((a, b) => a.deviations - b.deviations)[0];
  return (of?.predicted ?? []).map((p) => ({
    at: jointOf(p.place),
    frequency_hz: p.frequency_hz,
    read_ohm: typeof p.shown === 'number' ? p.shown : null,
    would_ohm: p.ohm ?? null,
  }));
}
