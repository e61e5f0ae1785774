/** Models of a job's own: from what is told of one that is there, with some of it typed anew. */
import { say } from '../words/spoken.svelte';
import { applied, at, parts, pointer, type Patch } from './pointer';
import { THIRDS_HZ, hertz, trim } from './units';

export type Pair = [number, number];

const isPair = (v: unknown): v is Pair =>
  Array.isArray(v) && v.length === 2 && v.every((n) => typeof n === 'number');
export const isCurve = (v: unknown): v is Pair[] => Array.isArray(v) && v.length > 0 && v.every(isPair);

/** An entry as the server tells it, as a catalogue file has it: without what is not stated, curves as tables. */
export function asTyped(told: unknown): unknown {
  if (isCurve(told)) return Object.fromEntries(told.map(([hz, v]) => [`${hz} Hz`, v]));
  if (Array.isArray(told)) return told.map(asTyped);
  if (typeof told !== 'object' || told === null) return told;
  const stated = Object.entries(told).filter(([, v]) => v !== null && v !== undefined);
  return Object.fromEntries(stated.map(([k, v]) => [k, asTyped(v)]));
}

/** A curve as people type it, a line for each frequency: "1 kHz: -2". */
export const curveText = (curve: readonly Pair[] | null | undefined) =>
  (curve ?? []).map(([hz, v]) => `${hertz(hz)}: ${trim(v, 2)}`).join('\n');

/** Reads a curve as it was typed; throws what is wrong with a line. */
export function readCurve(text: string): Record<string, number> {
  const lines = text
    .split(/[\n;]/)
    .map((l) => l.trim())
    .filter(Boolean);
  const read = lines.map((line): [string, number] => {
    const found =
      /^(\d+(?:[.,]\d+)?)\s*(k?Hz)?\s*[:=,\t ]\s*([-+\u2212]?\d+(?:[.,]\d+)?)\s*(?:dB|°|deg)?$/i.exec(line);
    if (!found) throw new Error(say('"{line}": write a frequency and a figure, such as 1 kHz: -2', { line }));
    const hz = Number(found[1]!.replace(',', '.')) * (/^k/i.test(found[2] ?? '') ? 1000 : 1);
    return [`${hz} Hz`, Number(found[3]!.replace(',', '.').replace('\u2212', '-'))];
  });
  return Object.fromEntries(read);
}

/** Several figures as they are typed, "5, 10, 20"; each is left as it is, the server reads its unit. */
export const readList = (text: string): (number | string)[] =>
  text
    .split(/[,;]/)
    .map((t) => t.trim())
    .filter(Boolean)
    .map((t) => (Number.isFinite(Number(t)) ? Number(t) : t));

/** The entry with values put at their places; `undefined` takes one away, and an emptied table with it. */
export function withValues(entry: unknown, values: Record<string, unknown>): unknown {
  let whole = entry;
  for (const [path, value] of Object.entries(values)) {
    const keys = parts(path);
    const above = pointer(...keys.slice(0, -1));
    const patch: Patch = [];
    if (value === undefined) {
      if (at(whole, path) !== undefined) patch.push({ op: 'remove', path });
    } else {
      if (keys.length > 1 && at(whole, above) === undefined)
        patch.push({ op: 'add', path: above, value: {} });
      patch.push({ op: 'add', path, value });
    }
    whole = applied(whole, patch);
  }
  return whole;
}

/** Taps of a loudspeaker without any are no transformer: fed past it, it needs none. */
export function withoutEmptyTransformer(entry: unknown): unknown {
  const taps = ['taps_25v', 'taps_70v', 'taps_100v'].map((k) => at(entry, `/transformer/${k}`));
  if (at(entry, '/transformer') === undefined || taps.some((t) => Array.isArray(t) && t.length)) return entry;
  return withValues(entry, { '/transformer': undefined, '/low_impedance': true });
}

/** An id like another that nothing has: "stake-165-wide" begets "stake-165-wide-2". */
export function idLike(id: string, taken: readonly string[]): string {
  for (let n = 2; ; n++) if (!taken.includes(`${id}-${n}`)) return `${id}-${n}`;
}

/** A curve at third octaves, joined by straight lines over log frequency as the engines join it; nothing where it does not reach. */
export const atThirds = (curve: readonly Pair[] | null | undefined): (number | null)[] =>
  THIRDS_HZ.map((hz) => {
    const points = curve ?? [];
    const next = points.findIndex(([f]) => f >= hz);
    if (next < 0) return null;
    const [f1, v1] = points[next]!;
    if (Math.abs(f1 / hz - 1) < 1e-6) return v1;
    const before = points[next - 1];
    if (!before) return null;
    const [f0, v0] = before;
    return v0 + ((v1 - v0) * Math.log(hz / f0)) / Math.log(f1 / f0);
  });

/** Models in whose id or description every word is found, of one kind or of all. */
export function foundModels<M extends { description: string; kind?: unknown }>(
  models: Record<string, M>,
  typed: string,
  kind = '',
): [string, M][] {
  const plain = (text: string) => text.normalize('NFKD').replace(/\p{M}/gu, '').toLowerCase();
  const words = plain(typed).split(/\s+/).filter(Boolean);
  return Object.entries(models).filter(([id, m]) => {
    const said = plain(`${id} ${m.description}`);
    return (!kind || m.kind === kind) && words.every((w) => said.includes(w));
  });
}
