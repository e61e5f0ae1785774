/**
 * What to measure next: the test whose outcome is expected to tell most per minute, by the drop of entropy over the
 * explanations (as crates/faults/src/next.rs does; at a joint with the table's own deviations).
 */
import {
  covariance,
  SEEN,
  frequencyAt,
  valuesAt,
  weigh,
  type Prediction,
  type Shown,
  type Table,
  type TablePlace,
  type Value,
} from './evaluate';
import { expectedFor } from './verdict';
import type { Expected } from './shapes';

export interface Next {
  /** Joint to open; `null` at the rack. */
  at: string | null;
  frequency_hz: number;
  bits: number;
  minutes: number;
  expected: Expected | null;
}

/** Minutes of work (common practice, no source; the same as the engine's). */
const RACK_MIN = 2;
const JOINT_MIN = 25;
/** Points below this probability do not steer the choice. */
const STEERS = 5e-4;
/** A test that tells less than this, in bits, is not worth naming. */
const WORTH = 0.01;
const BINS = 240;
const OPEN = BINS;
const PLAIN = BINS + 1;

interface Possible {
  hypothesis: number;
  probability: number;
  seen: number;
  mean: number | null;
  deviation: number;
}

/** The best test, `null` when none tells anything. */
export function nextOf(table: Table, readings: Shown[], opened: string[], expected: Expected[]): Next | null {
  const weighed = weigh(table, readings, opened);
  const alive: { hypothesis: number; point: number; probability: number }[] = [];
  table.hypotheses.forEach((h, hypothesis) => {
    for (let point = h.first; point < h.first + h.count; point++) {
      const probability = Math.exp(weighed.log_probability[point]!);
      if (probability > STEERS) alive.push({ hypothesis, point, probability });
    }
  });
  const total = alive.reduce((s, a) => s + a.probability, 0);
  const hands = readings.filter((r) => r.frequency_hz > 0).map((r) => r.frequency_hz);
  let best: Next | null = null;
  for (const place of table.places) {
    const at = place.place === 'rack' ? null : place.place.downstream;
    if (at !== null && opened.includes(at)) continue;
    const values = valuesAt(place, table, readings);
    for (const hz of at === null ? place.frequencies_hz : jointHz(place, hands)) {
      const quantity = frequencyAt(place, hz);
      if (values.some((v) => v.quantity === quantity)) continue;
      const possible = alive.map((a): Possible => {
        const h = table.hypotheses[a.hypothesis]!;
        const share = at === null ? 0 : (h.seen.find((s) => s.joint === at)?.share ?? 0);
        const [mean, deviation] = given(place.predictions[place.of_point[a.point]!]!, values, quantity);
        const probability = a.probability / total;
        return { hypothesis: a.hypothesis, probability, seen: SEEN * share, mean, deviation };
      });
      const bits = expectedBits(possible);
      const minutes = at === null ? RACK_MIN : JOINT_MIN;
      if (bits > WORTH && (!best || bits / minutes > best.bits / best.minutes)) {
        best = { at, frequency_hz: hz, bits, minutes, expected: expectedFor(expected, at, hz) ?? null };
      }
    }
  }
  return best;
}

/** Of the frequencies a joint's predictions have, the one the crew's meter reads. */
function jointHz(place: TablePlace, hands: number[]): number[] {
  const offered = place.frequencies_hz.filter((f) => f > 0);
  const known = offered.filter((f) => hands.some((h) => Math.abs(h - f) < 1));
  const all = known.length ? known : offered;
  const far = (f: number) => Math.abs(Math.log(f / 1000));
  return all.length ? [all.reduce((a, b) => (far(b) < far(a) ? b : a))] : [];
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
function expectedBits(possible: Possible[]): number {
  const means = possible.flatMap((p) => (p.mean === null ? [] : [p.mean]));
  const low = Math.min(...means) - 0.3;
  const width = Math.max((Math.max(...means) + 0.3 - low) / BINS, 1e-6);
  const bins = Array.from({ length: BINS + 2 }, () => new Map<number, number>());
  const add = (bin: number, h: number, weight: number) =>
    bins[bin]!.set(h, (bins[bin]!.get(h) ?? 0) + weight);
  for (const p of possible) {
    if (p.seen > 0) add(PLAIN, p.hypothesis, p.probability * p.seen);
    const rest = p.probability * (1 - p.seen);
    if (p.mean === null) {
      add(OPEN, p.hypothesis, rest);
      continue;
    }
    const deviation = Math.max(p.deviation, width);
    const at = (ln: number) => Math.trunc(Math.min(BINS - 1, Math.max(0, (ln - low) / width)));
    const [first, last] = [at(p.mean - 4 * deviation), at(p.mean + 4 * deviation)];
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
