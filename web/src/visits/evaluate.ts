/**
 * Weighs the explanations of readings on a line from the table the server made of it: the same numbers as
 * `loamline locate`. The rule is that of crates/faults/src/weigh.rs, word for word; e2e/visits/engine.spec.ts holds the two
 * together.
 */
import type { Placed } from '../lib/told';
import type { Rules } from './rules';

/** Where a meter is connected: the rack, or a joint with the run towards the rack taken off. */
export type TablePlaceName = 'rack' | { downstream: string };

export type Fault =
  | { kind: 'healthy' }
  | { kind: 'open' | 'short_along' | 'high_splice'; run: string }
  | { kind: 'short_at' | 'wet'; joint: string }
  | { kind: 'wrong_tap'; load: string; tap_w: number }
  | { kind: 'low_impedance' | 'missing'; load: string }
  | { kind: 'swapped'; line: string }
  | { kind: 'swapped_at'; joint: string; line: string };

/** What was measured of a line's insulation to earth; `null` where nothing was, or nothing can be told. */
export type Insulation = 'good' | 'doubtful' | 'bad' | null;

export interface Hypothesis {
  fault: Fault;
  sentence: string;
  /** The measures in the sentence; none where it has none. */
  measures?: Placed[];
  weight: number;
  first: number;
  count: number;
  seen: { joint: string; share: number }[];
}

export interface Prediction {
  /** Ln(ohm + offset) per quantity, then phases; null where the meter shows an open line. */
  mean: (number | null)[];
  /** Lower triangle, row by row. */
  covariance: number[];
}

export interface TablePlace {
  place: TablePlaceName;
  frequencies_hz: number[];
  phases: boolean;
  predictions: Prediction[];
  /** Per point, its prediction. */
  of_point: number[];
}

export interface Table {
  line: string;
  hypotheses: Hypothesis[];
  /** Per point: share of a run, or ohm. */
  parameters: (number | null)[];
  places: TablePlace[];
  meter_range_ohm: number;
  /** Added to ohms before the logarithm is taken. */
  offset_ohm: number;
}

/** What a meter shows; `null` is more than its range. */
export interface Shown {
  /** Joint the meter is at, looking away from the rack; `null` at the rack. */
  at: string | null;
  /** 0 for direct current. */
  frequency_hz: number;
  ohm: number | null;
}

export interface Weighed {
  log_probability: Float64Array;
  deviations: Float64Array;
  probability: Float64Array;
}

/** A quantity that was read: its index at the place, ln(ohm + offset) or `null` for an open line. */
export interface Value {
  quantity: number;
  value: number | null;
}

export const placeOf = (table: Table, at: string | null) =>
  table.places.find((p) => (p.place === 'rack' ? at === null : p.place.downstream === at));

/** Position of a frequency at a place; -1 when the table has none such. */
export const frequencyAt = (place: TablePlace, hz: number) =>
  place.frequencies_hz.findIndex((f) => Math.abs(f - hz) < 1e-6);

/** Whether a reading can be weighed with this table. */
export function inTable(table: Table, reading: Shown): boolean {
  const place = placeOf(table, reading.at);
  return place !== undefined && frequencyAt(place, reading.frequency_hz) >= 0;
}

/** The readings of a place as quantities. Readings the table does not know are left out: see [`inTable`]. */
export function valuesAt(place: TablePlace, table: Table, readings: Shown[]): Value[] {
  const at = place.place === 'rack' ? null : place.place.downstream;
  return readings
    .filter((r) => r.at === at)
    .map((r) => ({
      quantity: frequencyAt(place, r.frequency_hz),
      value: r.ohm !== null && r.ohm <= table.meter_range_ohm ? Math.log(r.ohm + table.offset_ohm) : null,
    }))
    .filter((v) => v.quantity >= 0);
}

export function covariance(p: Prediction, i: number, j: number): number {
  const [low, high] = i < j ? [i, j] : [j, i];
  return p.covariance[(high * (high + 1)) / 2 + low]!;
}

/**
 * Log likelihood of what was read under a prediction, and the squared distance in standard deviations. `open` is the end
 * of the meter's range as a quantity.
 */
export function logLikelihood(
  p: Prediction,
  values: Value[],
  open: number,
  { contradiction, range_edge }: Rules['weigh'],
): [number, number] {
  const clamp = (x: number) => Math.min(contradiction, Math.max(0, x));
  const used: number[] = [];
  const residual: number[] = [];
  let penalty = 0;
  for (const { quantity, value } of values) {
    const mean = p.mean[quantity]!;
    if (mean !== null && value !== null) {
      used.push(quantity);
      residual.push(value - mean);
    } else if (mean !== null) {
      const off = (open - mean) / Math.sqrt(covariance(p, quantity, quantity));
      penalty += 0.5 * clamp(off) ** 2;
    } else if (value !== null) {
      penalty += 0.5 * clamp((open - value) / range_edge) ** 2;
    }
  }
  const [logDeterminant, squared] = gauss(
    used.length,
    (i, j) => covariance(p, used[i]!, used[j]!),
    (i) => residual[i]!,
  );
  return [-0.5 * (logDeterminant + squared) - penalty, squared + 2 * penalty];
}

/** Ln det C and r' C^-1 r by Cholesky. */
export function gauss(
  n: number,
  covariance: (i: number, j: number) => number,
  residual: (i: number) => number,
): [number, number] {
  const c = new Float64Array(n * n);
  const y = new Float64Array(n);
  let logDeterminant = 0;
  let squared = 0;
  for (let i = 0; i < n; i++) {
    for (let j = 0; j <= i; j++) {
      let rest = covariance(i, j);
      for (let k = 0; k < j; k++) rest -= c[i * n + k]! * c[j * n + k]!;
      c[i * n + j] = i === j ? Math.sqrt(Math.max(rest, 1e-12)) : rest / c[j * n + j]!;
    }
    let rest = residual(i);
    for (let k = 0; k < i; k++) rest -= c[i * n + k]! * y[k]!;
    y[i] = rest / c[i * n + i]!;
    logDeterminant += 2 * Math.log(c[i * n + i]!);
    squared += y[i]! ** 2;
  }
  return [logDeterminant, squared];
}

/** Faults that open a way for water or earth to a conductor. */
const LET_EARTH_IN: Fault['kind'][] = ['wet', 'short_at', 'short_along', 'open'];

/** How likely insulation to earth of this grade is under a fault; of good insulation nothing follows. */
export function leaks(fault: Fault, rule: Rules['weigh'], insulation: Insulation): number {
  if (insulation === null || insulation === 'good') return 1;
  if (LET_EARTH_IN.includes(fault.kind)) return rule.leaks;
  return insulation === 'bad' ? rule.leaks_badly : rule.leaks_doubtfully;
}

/**
 * Weighs every hypothesis. `opened` are joints that were opened and looked good, `insulation` is what was measured to earth.
 */
export function weigh(
  table: Table,
  { weigh: rule }: Rules,
  readings: Shown[],
  opened: string[] = [],
  insulation: Insulation = null,
): Weighed {
  const count = table.parameters.length;
  const log = new Float64Array(count);
  const squared = new Float64Array(count);
  for (const h of table.hypotheses) {
    let prior = h.weight / h.count;
    for (const s of h.seen) if (opened.includes(s.joint)) prior *= 1 - rule.seen * s.share;
    prior *= leaks(h.fault, rule, insulation);
    log.fill(Math.log(Math.max(prior, 1e-300)), h.first, h.first + h.count);
  }
  const open = Math.log(table.meter_range_ohm + table.offset_ohm);
  for (const place of table.places) {
    const values = valuesAt(place, table, readings);
    if (!values.length) continue;
    const scored = place.predictions.map((p) => logLikelihood(p, values, open, rule));
    for (let point = 0; point < count; point++) {
      const [likelihood, distance] = scored[place.of_point[point]!]!;
      log[point]! += likelihood;
      squared[point]! += distance;
    }
  }
  const most = log.reduce((a, b) => Math.max(a, b), -Infinity);
  const sum = log.reduce((s, w) => s + Math.exp(w - most), 0);
  const log_probability = log.map((w) => w - most - Math.log(sum));
  const probability = new Float64Array(table.hypotheses.length);
  table.hypotheses.forEach((h, i) => {
    for (let p = h.first; p < h.first + h.count; p++) probability[i]! += Math.exp(log_probability[p]!);
  });
  return { log_probability, deviations: squared.map(Math.sqrt), probability };
}
