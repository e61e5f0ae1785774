/** A new job from three questions: where it is built, what is played, at which line voltage. All else begins as is usual. */
import { CUSTOMS } from './custom';
import { pointer, put, type Patch } from './pointer';
import { fieldSpec } from './schema';
import type { LengthUnit } from './units';

interface Programme {
  name: string;
  spectrum: string;
  crest_factor: string;
  speech?: boolean;
}

/** What is played where nobody says what. */
export const BACKGROUND: Programme = {
  name: 'Background music',
  spectrum: 'simulated programme',
  crest_factor: '12 dB',
};
const SPEECH: Programme = {
  name: 'Speech',
  spectrum: 'simulated programme',
  crest_factor: '12 dB',
  speech: true,
};
/** More bass and less between the loudest and the mean than background music (common practice, no source). */
const DANCE: Programme = { name: 'Music to dance to', spectrum: 'pink', crest_factor: '10 dB' };

/** What is played, by the ids of its programmes. */
export const PLAYED: Record<string, { label: string; programmes: Record<string, Programme> }> = {
  background: { label: 'Background music', programmes: { music: BACKGROUND } },
  announced: { label: 'Background music and speech', programmes: { music: BACKGROUND, speech: SPEECH } },
  dance: { label: 'Music to dance to', programmes: { music: DANCE } },
  speech: { label: 'Speech', programmes: { speech: SPEECH } },
};

const supply = fieldSpec('Brief', 'supply');
/** How loudspeakers can be fed, as the schema has it. */
export const FED: readonly string[] = supply.options!.map((o) => o.value);
export const USUALLY_FED = '70.7 V';

export interface Answers {
  unit: LengthUnit;
  played: keyof typeof PLAYED;
  fed: string;
}

/** The edit that makes an empty job begin as was answered. */
export function begun(document: unknown, { unit, played, fed }: Answers): Patch {
  const money = CUSTOMS[unit].patch;
  const programmes = put(document, '/programmes', PLAYED[played]!.programmes);
  return [...money, ...programmes, ...(fed === USUALLY_FED ? [] : put(document, '/brief/supply', fed))];
}

/** What a rack begins with on the mains of each country: the usual voltage, and the usual circuit of it. */
export const MAINS: Record<string, { label: string; rack: { mains?: string; circuit?: string } }> = {
  '230 V': { label: '230 V, 16 A', rack: CUSTOMS.m.rack },
  '120 V': { label: '120 V, 20 A', rack: CUSTOMS.ft.rack },
  // From memory: Japan's general circuits are of 20 A with outlets of 15 A.
  '100 V': { label: '100 V, 15 A', rack: { mains: '100 V', circuit: '15 A' } },
};
/** The mains that go with a unit of length where nobody says another. */
export const mainsWith = (unit: LengthUnit) => (unit === 'ft' ? '120 V' : '230 V');

/** What a new rack begins with. */
export const rackOn = (mains: string, unit: LengthUnit) => (MAINS[mains] ?? MAINS[mainsWith(unit)]!).rack;

/**
 * What a new rack of a job begins with: the mains that all its racks are on, whoever draws it; else what was answered in this
 * browser.
 */
export function rackBeside(
  racks: Readonly<Record<string, { mains?: number; circuit?: number }>>,
  mains: string,
  unit: LengthUnit,
): { mains?: string; circuit?: string } {
  const on = new Set(Object.values(racks).map((r) => `${r.mains} V, ${r.circuit} A`));
  const [first] = Object.values(racks);
  if (on.size !== 1 || first?.mains === undefined || first.circuit === undefined) return rackOn(mains, unit);
  return { mains: `${first.mains} V`, circuit: `${first.circuit} A` };
}

/** The edit that gives a copied job a name of its own. */
export const renaming = (document: unknown, name: string): Patch =>
  put(document, pointer('job', 'name'), name);

/** "Quince Yard" begets "Quince Yard, copy", and then "Quince Yard, copy 2". */
export function copyName(name: string, taken: readonly string[]): string {
  const stem = `${name.replace(/, copy( \d+)?$/, '')}, copy`;
  if (!taken.includes(stem)) return stem;
  for (let n = 2; ; n++) if (!taken.includes(`${stem} ${n}`)) return `${stem} ${n}`;
}
