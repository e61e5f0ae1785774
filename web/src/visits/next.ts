/**
 * What to measure next: the test whose outcome is expected to tell most per minute, by the drop of entropy over the
 * explanations, as in crates/faults/src/next.rs and outcomes.rs. One difference is left: of a joint the table knows, besides
 * direct current, the one frequency that line meters read; where the crew's meter reads others alone, the engine predicts
 * those.
 */
import {
  covariance,
  frequencyAt,
  valuesAt,
  weigh,
  type Insulation,
  type Prediction,
  type Shown,
  type Table,
  type TablePlace,
  type Value,
} from './evaluate';
import type { Rules } from './rules';
import { expectedFor } from './verdict';
import type { Expected } from './shapes';

export interface Test {
  /** Joint to open; `null` at the rack. */
  at: string | null;
  frequency_hz: number;
  bits: number;
  minutes: number;
  /** What a good line reads there; `null` for open. */
  good_ohm: number | null;
}
/** A test with what a good line should read. */
export type Next = Test & { expected: Expected | null };

interface Possible {
  hypothesis: number;
  probability: number;
  seen: number;
  mean: number | null;
  deviation: number;
}

/** A point of the table that steers the choice. */
interface Alive {
  hypothesis: number;
  point: number;
  probability: number;
}

/** The best test, `null` when none tells anything. Of the rack only frequencies that are `expected` there: those of the meter. */
export function nextOf(
  table: Table,
  rules: Rules,
  readings: Shown[],
  opened: string[],
  expected: Expected[],
  insulation: Insulation = null,
): Next | null {
  const offered = expected.filter((e) => e.at === null).map((e) => e.frequency_hz);
  const reads = (hz: number) =>
    !offered.length || offered.some((f) => Math.abs(f - hz) <= rules.next.same_hz);
  const best = testsOf(table, rules, readings, opened, reads, insulation)[0];
  return best ? { ...best, expected: expectedFor(expected, best.at, best.frequency_hz) ?? null } : null;
}

/** The tests that tell something, best first; at the rack those at frequencies that the meter `reads`. */
export function testsOf(
  table: Table,
  rules: Rules,
  readings: Shown[],
  opened: string[],
  reads: (hz: number) => boolean = () => true,
  insulation: Insulation = null,
): Test[] {
  const rule = rules.next;
  const weighed = weigh(table, rules, readings, opened, insulation);
  const alive: Alive[] = [];
  table.hypotheses.forEach((h, hypothesis) => {
    for (let point = h.first; point < h.first + h.count; point++) {
      const probability = Math.exp(weighed.log_probability[point]!);
      if (probability > rule.steers) alive.push({ hypothesis, point, probability });
    }
  });
  const total = alive.reduce((s, a) => s + a.probability, 0);
  for (const a of alive) a.probability /= total;
  const tests = table.places
    .flatMap((place) =>
      place.place === 'rack'
        ? atRack(table, place, rule, readings, alive)
        : atJoint(table, place, place.place.downstream, rules, readings, opened, alive),
    )
    .filter((t) => t.bits > rule.worth && (t.at !== null || reads(t.frequency_hz)));
  return tests.sort((a, b) => b.bits / b.minutes - a.bits / a.minutes).slice(0, rule.listed);
}

/** What has not been read at the rack, given what has: they share their errors. */
function atRack(
  table: Table,
  place: TablePlace,
  rule: Rules['next'],
  readings: Shown[],
  alive: Alive[],
): Test[] {
  const read = readings.filter((r) => r.at === null);
  const values = valuesAt(place, table, readings);
  return place.frequencies_hz
    .filter((hz) => read.every((r) => Math.abs(r.frequency_hz - hz) > rule.same_hz))
    .map((hz) => {
      const quantity = frequencyAt(place, hz);
      const possible = alive.map(({ hypothesis, point, probability }): Possible => {
        const [mean, deviation] = given(place.predictions[place.of_point[point]!]!, values, quantity);
        return { hypothesis, probability, seen: 0, mean, deviation };
      });
      return {
        at: null,
        frequency_hz: hz,
        bits: expectedBits(possible, rule),
        minutes: rule.rack_min,
        good_ohm: goodOhm(table, place, quantity),
      };
    });
}

/** Opening a joint, looking, and reading away from it as a good line spreads, and the leads of the meter. */
function atJoint(
  table: Table,
  place: TablePlace,
  at: string,
  { weigh: { seen }, next: rule }: Rules,
  readings: Shown[],
  opened: string[],
  alive: Alive[],
): Test[] {
  const quantity = place.frequencies_hz.findIndex((hz) => hz > 0);
  const hz = place.frequencies_hz[quantity] ?? 0;
  const read = readings.some((r) => r.at === at && Math.abs(r.frequency_hz - hz) < rule.same_hz);
  if (quantity < 0 || read || opened.includes(at)) return [];
  // The first prediction of a place is a good line's.
  const good = Math.sqrt(covariance(place.predictions[0]!, quantity, quantity));
  const possible = alive.map(({ hypothesis, point, probability }): Possible => {
    const share = table.hypotheses[hypothesis]!.seen.find((s) => s.joint === at)?.share ?? 0;
    const mean = place.predictions[place.of_point[point]!]!.mean[quantity]!;
    const leads = mean === null ? 0 : rule.meter_floor_ohm / Math.exp(mean);
    return { hypothesis, probability, seen: seen * share, mean, deviation: Math.hypot(good, leads) };
  });
  return [
    {
      at,
      frequency_hz: hz,
      bits: expectedBits(possible, rule),
      minutes: rule.joint_min,
      good_ohm: goodOhm(table, place, quantity),
    },
  ];
}

function goodOhm(table: Table, place: TablePlace, quantity: number): number | null {
  const mean = place.predictions[0]!.mean[quantity]!;
  return mean === null ? null : Math.exp(mean) - table.offset_ohm;
}

/** Mean and deviation of one quantity given others' values (normal conditioning, one known quantity after the other). */
function given(p: Prediction, values: Value[], wanted: number): [number | null, number] {
  const mean = p.mean[wanted]!;
  if (mean === null) return [null, 0];
  const known = values.filter((v) => v.value !== null && p.mean[v.quantity] !== null);
  const quantities = [...known.map((v) => v.quantity), wanted];
  const n = quantities.length;
  const c = quantities.map((i) => quantities.map((j) => covariance(p, i, j)));
  const shift = new Float64Array(n);
  for (let k = 0; k < n - 1; k++) {
    const surprise = known[k]!.value! - p.mean[known[k]!.quantity]! - shift[k]!;
    const row = [...c[k]!];
    const variance = Math.max(row[k]!, 1e-12);
    for (let i = k; i < n; i++) {
      const share = c[i]![k]! / variance;
      shift[i]! += share * surprise;
      for (let j = k; j < n; j++) c[i]![j]! -= share * row[j]!;
    }
  }
  return [mean + shift[n - 1]!, Math.sqrt(Math.max(c[n - 1]![n - 1]!, 1e-12))];
}

/** Expected drop of the entropy of the explanations, bits. */
function expectedBits(possible: Possible[], { bins: count, margin, reach }: Rules['next']): number {
  const means = possible.flatMap((p) => (p.mean === null ? [] : [p.mean]));
  const low = Math.min(...means) - margin;
  const width = Math.max((Math.max(...means) + margin - low) / count, 1e-6);
  // Behind the bins: an open line, and the fault plain to see.
  const [open, plain] = [count, count + 1];
  const bins = Array.from({ length: count + 2 }, () => new Map<number, number>());
  const add = (bin: number, h: number, weight: number) =>
    bins[bin]!.set(h, (bins[bin]!.get(h) ?? 0) + weight);
  for (const p of possible) {
    if (p.seen > 0) add(plain, p.hypothesis, p.probability * p.seen);
    const rest = p.probability * (1 - p.seen);
    if (p.mean === null) {
      add(open, p.hypothesis, rest);
      continue;
    }
    const deviation = Math.max(p.deviation, width);
    const at = (ln: number) => Math.trunc(Math.min(count - 1, Math.max(0, (ln - low) / width)));
    const [first, last] = [at(p.mean - reach * deviation), at(p.mean + reach * deviation)];
    const weights: number[] = [];
    for (let bin = first; bin <= last; bin++) {
      const off = (low + (bin + 0.5) * width - p.mean) / deviation;
      weights.push(Math.exp(-0.5 * off * off));
    }
    const sum = Math.max(
      weights.reduce((a, b) => a + b, 0),
      1e-300,
    );
    weights.forEach((w, i) => add(first + i, p.hypothesis, (rest * w) / sum));
  }
  const entropy = (weights: Map<number, number>) => {
    const all = [...weights.values()].filter((w) => w > 0);
    const sum = all.reduce((a, b) => a + b, 0);
    return all.reduce((s, w) => s - w * Math.log2(w / sum), 0);
  };
  const before = new Map<number, number>();
  for (const bin of bins) for (const [h, w] of bin) before.set(h, (before.get(h) ?? 0) + w);
  return Math.max(0, entropy(before) - bins.reduce((s, bin) => s + entropy(bin), 0));
}
