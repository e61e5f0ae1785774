/** Sentences of the office with their measures in the units of whoever reads them, as `loamline --units` prints them. */
import { FT_M, length, square, temperature, type LengthUnit } from './units';

/** Where in a sentence a measure stands, and how much it is in SI units. */
export interface Placed {
  from: number;
  to: number;
  kind: string;
  value: number;
}

/** Lengths below this are told in feet and inches, longer ones in whole feet. */
const SHORT_FT = 10;

/** A length along cable or ground: "9.1 m", "30 ft", or "4 ft 2 in" where it is short. */
export function runLength(metres: number, unit: LengthUnit): string {
  if (unit === 'm') return `${metres.toFixed(1)} m`;
  const feet = metres / FT_M;
  if (feet >= SHORT_FT) return `${Math.round(feet)} ft`;
  const inches = Math.round(feet * 12);
  return length((inches * FT_M) / 12, 'ft');
}

const IN_FEET: Record<string, (value: number) => string> = {
  length: (metres) => runLength(metres, 'ft'),
  round_length: (metres) => runLength(metres, 'ft'),
  clearance: (metres) => length(metres, 'ft'),
  area: (m2) => square(m2, 'ft'),
  temperature: (celsius) => temperature(celsius, 'ft'),
  ohm_per_length: (ohm) => `${(ohm * FT_M).toFixed(4)} ohm per foot`,
};

/** A sentence as a reader of `unit` wants it: each measure at its place is written anew, the words stay. */
export function told(said: { sentence: string; measures?: Placed[] }, unit: LengthUnit): string {
  if (unit === 'm') return said.sentence;
  let text = '';
  let at = 0;
  for (const { from, to, kind, value } of said.measures ?? []) {
    const written = IN_FEET[kind]?.(value) ?? said.sentence.slice(from, to);
    text += said.sentence.slice(at, from) + written;
    at = to;
  }
  return text + said.sentence.slice(at);
}
