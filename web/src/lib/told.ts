/** Sentences of the office with their measures in the units of whoever reads them, as `loamline --units` prints them. */
import { say, spoken } from '../words/spoken.svelte';
import { FT_M, length, square, temperature, type LengthUnit } from './units';

/** Where in a sentence a measure stands, and how much it is in SI units. */
export interface Placed {
  from: number;
  to: number;
  kind: string;
  value: number;
}

/** What is said, and what would mend it, in one language. */
interface InLanguage {
  sentence: string;
  measures?: Placed[];
  mend?: string | null;
}

/** The same in English, with what other languages say otherwise beside it, by their names. */
export interface Said extends InLanguage {
  spoken?: Record<string, InLanguage>;
}

/** In the language that is spoken; in English where that has no words of its own. */
const inLanguage = (said: Said): InLanguage => said.spoken?.[spoken.language] ?? said;

/** What would mend it, in the language that is spoken. */
export const mendTold = (said: Said): string | null => inLanguage(said).mend ?? said.mend ?? null;

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
  ohm_per_length: (ohm) => say('{ohm} ohm per foot', { ohm: (ohm * FT_M).toFixed(4) }),
};

/** A sentence as its reader wants it: in the language that is spoken, each measure at its place written in `unit`. */
export function told(said: Said, unit: LengthUnit): string {
  const { sentence, measures = [] } = inLanguage(said);
  if (unit === 'm') return sentence;
  let text = '';
  let at = 0;
  for (const { from, to, kind, value } of measures) {
    const written = IN_FEET[kind]?.(value) ?? sentence.slice(from, to);
    text += sentence.slice(at, from) + written;
    at = to;
  }
  return text + sentence.slice(at);
}
