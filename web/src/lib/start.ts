/** A new job from three questions: where it is built (lengths and money, mains, paper), what is played, at which line voltage. */
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
  /** One of `MAINS`. */
  mains: string;
  paper: string;
  played: keyof typeof PLAYED;
  fed: string;
}

/**
 * The edit that makes an empty job begin as was answered. Mains and paper are written down though they are usual: they stay what
 * they are when the job is read in other units later.
 */
export function begun(document: unknown, { unit, mains, paper, played, fed }: Answers): Patch {
  const { circuit } = MAINS[mains]!;
  const place: Patch = [
    ...CUSTOMS[unit].patch,
    ...Object.entries({ mains, circuit, paper }).map(([key, value]): Patch[number] => ({
      op: 'add',
      path: `/job/${key}`,
      value,
    })),
  ];
  const programmes = put(document, '/programmes', PLAYED[played]!.programmes);
  return [...place, ...programmes, ...(fed === USUALLY_FED ? [] : put(document, '/brief/supply', fed))];
}

/** The mains of each country: the usual voltage, and the usual circuit of it. */
export const MAINS: Record<string, { label: string; circuit: string }> = {
  [CUSTOMS.m.mains]: { label: `${CUSTOMS.m.mains}, ${CUSTOMS.m.circuit}`, circuit: CUSTOMS.m.circuit },
  [CUSTOMS.ft.mains]: { label: `${CUSTOMS.ft.mains}, ${CUSTOMS.ft.circuit}`, circuit: CUSTOMS.ft.circuit },
  // From memory: Japan's general circuits are of 20 A with outlets of 15 A.
  '100 V': { label: '100 V, 15 A', circuit: '15 A' },
};

/** The sheets a job can be printed on, as the schema has them. */
export const SHEETS: readonly string[] = fieldSpec('About', 'paper').options!.map((o) => o.value);

/**
 * What a new rack of a job says of its mains: what all the others say of their own, whoever draws it. Where they say nothing, those
 * of the job hold.
 */
export function rackBeside(
  racks: Readonly<Record<string, { mains?: number | null; circuit?: number | null }>>,
): { mains?: string; circuit?: string } {
  const [first, ...others] = Object.values(racks);
  if (others.some((r) => r.mains !== first!.mains || r.circuit !== first!.circuit)) return {};
  return {
    ...(first?.mains == null ? {} : { mains: `${first.mains} V` }),
    ...(first?.circuit == null ? {} : { circuit: `${first.circuit} A` }),
  };
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
