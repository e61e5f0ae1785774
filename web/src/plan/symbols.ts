/** Symbols of the plan, described once for screen and paper in crates/papers; and the letters and colours of buried services. */
import set from '../../../crates/papers/src/drawing/symbols.json';
import type { JobDocument } from '../api/document';
import type { Catalogue } from '../api/shapes';
import { distance, type Point } from '../lib/geometry';
import { ONE_STAKE_M } from '../lib/stakes';

/** Pixels a millimetre of paper has on screen, at the usual size of symbols: small ones are told apart, large ones leave room. */
export const PX_PER_MM = 5;
/** Two loudspeakers on one stake are back to back where their bearings are this near to half a turn apart, as on paper. */
const OPPOSITE_DEG = 30;

export type SymbolName = keyof typeof set.symbols;
/** What a part is filled or drawn with. */
type Tint = 'colour' | 'sheet' | 'none';

export interface Part {
  d: string;
  fill: Tint;
  stroke: Tint;
  width: number;
}

const paints = set.paints as Record<string, Omit<Part, 'd'>>;
const symbols = set.symbols as Record<SymbolName, { paint: string; d: string }[]>;
const services = set.services as Record<string, { letter: string; us: string }>;

/** The parts of a symbol, in the order they are drawn; millimetres, y down, facing up. */
export const partsOf = (name: SymbolName): Part[] =>
  symbols[name].map(({ paint, d }) => ({ d, ...paints[paint]! }));

export const SYMBOLS = Object.keys(symbols) as SymbolName[];

/** The words of the key, those of the papers; symbols in the order they are told. */
export const KEY: [SymbolName, string][] = [
  ['stake', 'loudspeaker on a stake, faces the flare'],
  ['bracket', 'loudspeaker on a bracket'],
  ['standing', 'loudspeaker standing on the ground'],
  ['in-ground', 'loudspeaker in the ground'],
  ['satellite', 'satellite'],
  ['bollard', 'bollard, all round'],
  ['rock', 'rock'],
  ['subwoofer', 'subwoofer'],
  ['pair', 'two back to back on one stake'],
  ['joint-buried', 'joint in the ground'],
  ['joint-box', 'joint in a box'],
  ['rack', 'rack'],
  ['stub', 'existing cable end'],
  ['passage', 'opening through a wall'],
  ['mark', 'fixed mark'],
  ['neighbour', "neighbour's window or garden"],
];

type Placed = Pick<JobDocument, 'loudspeakers'>;
const modelOf = (catalogue: Catalogue | null, model: string) => catalogue?.loudspeakers[model];
const hasFlare = (kind: string | undefined) => kind !== 'subwoofer' && kind !== 'bollard';

/** The other of two loudspeakers of one line that hang on one stake back to back; `null` for one that has none. */
export function mateOf({ loudspeakers }: Placed, catalogue: Catalogue | null, id: string): string | null {
  const own = loudspeakers[id]!;
  const fixed = (l: typeof own) => l.mount ?? modelOf(catalogue, l.model)?.mount;
  const plays = (l: typeof own) => hasFlare(modelOf(catalogue, l.model)?.kind);
  if (fixed(own) !== 'stake' || !plays(own)) return null;
  const found = Object.entries(loudspeakers).find(([other, l]) => {
    const apart = (((own.bearing - l.bearing) % 360) + 360) % 360;
    return (
      other !== id &&
      l.line === own.line &&
      fixed(l) === 'stake' &&
      plays(l) &&
      distance(l.position, own.position) <= ONE_STAKE_M &&
      Math.abs(apart - 180) <= OPPOSITE_DEG
    );
  });
  return found?.[0] ?? null;
}

/** What stands for a loudspeaker on the plan: `null` for the second of a pair, which the symbol of the first stands for. */
export function symbolOf(doc: Placed, catalogue: Catalogue | null, id: string): SymbolName | null {
  const mate = mateOf(doc, catalogue, id);
  if (mate !== null) {
    const ids = Object.keys(doc.loudspeakers);
    return ids.indexOf(id) < ids.indexOf(mate) ? 'pair' : null;
  }
  const placed = doc.loudspeakers[id]!;
  const model = modelOf(catalogue, placed.model);
  switch (model?.kind) {
    case 'subwoofer':
      return 'subwoofer';
    case 'bollard':
      return 'bollard';
    case 'rock':
      return 'rock';
    case 'satellite':
      return 'satellite';
  }
  switch (placed.mount ?? model?.mount) {
    case 'bracket':
    case 'eaves':
      return 'bracket';
    case 'surface':
    case 'base':
      return 'standing';
    case 'in ground':
      return 'in-ground';
    default:
      return 'stake';
  }
}

/** The symbols that are on a plan, in the order of the key. */
export function symbolsOn(doc: JobDocument, catalogue: Catalogue | null): SymbolName[] {
  const there = new Set<SymbolName | null>(
    Object.keys(doc.loudspeakers).map((id) => symbolOf(doc, catalogue, id)),
  );
  for (const j of Object.values(doc.joints)) there.add(j.kind === 'box' ? 'joint-box' : 'joint-buried');
  const tables = { racks: 'rack', stubs: 'stub', passages: 'passage', marks: 'mark' } as const;
  for (const [table, name] of Object.entries(tables))
    if (Object.keys(doc[table as keyof typeof tables]).length) there.add(name);
  if (Object.values(doc.neighbours).some((n) => n.points.length)) there.add('neighbour');
  return KEY.map(([name]) => name).filter((name) => there.has(name));
}

/** The letter of a buried service: E G T W D I; a question mark for one that is not known. */
export const letterOf = (kind: string) => services[kind]?.letter ?? '?';

/** Its colour by the open uniform code, for a job in US units; `null` where all have one colour. */
export const colourOf = (kind: string, units: string | null | undefined) =>
  units === 'us' ? (services[kind]?.us ?? null) : null;

/** Places for its letters along a way on screen: at its middle, and every so many pixels of a long one. */
export function letterPlaces(way: readonly Point[], every_px = 140): Point[] {
  const legs = way.slice(1).map((to, i) => ({ from: way[i]!, to, length: distance(way[i]!, to) }));
  const total = legs.reduce((sum, leg) => sum + leg.length, 0);
  const count = Math.max(1, Math.min(50, Math.floor(total / every_px)));
  return Array.from({ length: count }, (_, k) => {
    let left = (total * (k + 0.5)) / count;
    for (const { from, to, length } of legs) {
      if (left <= length && length > 0) {
        const u = left / length;
        return [from[0] + (to[0] - from[0]) * u, from[1] + (to[1] - from[1]) * u] as Point;
      }
      left -= length;
    }
    return way.at(-1)!;
  });
}
