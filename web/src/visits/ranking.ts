/**
 * Explanations in words with their places on the plan, from a table and its weights. Which are told, where along a run and
 * which cannot be told apart: as in crates/faults/src/locate.rs and groups.rs.
 */
import { distance, wayLength, type Point } from '../lib/geometry';
import { runLength, told } from '../lib/told';
import type { LengthUnit } from '../lib/units';
import {
  covariance,
  frequencyAt,
  gauss,
  leaks,
  placeOf,
  valuesAt,
  weigh,
  type Fault,
  type Hypothesis,
  type Insulation,
  type Prediction,
  type Shown,
  type Table,
  type Value,
  type Weighed,
} from './evaluate';
import { say } from '../words/spoken.svelte';
import type { Rules } from './rules';
import type { LaidRun } from './shapes';
import type { Compared } from './unexplained';

/** A stretch of a run, m from its `from` end (95 % of the probability). */
export interface Stretch {
  run: string;
  from: string;
  to: string;
  low_m: number;
  likely_m: number;
  high_m: number;
  length_m: number;
}

/** Where to look: a place, and the stretch of cable it lies on. */
export interface Spot {
  at: Point;
  way: Point[];
}

export interface Explanation {
  fault: Fault;
  probability: number;
  sentence: string;
  stretch: Stretch | null;
  /** Likeliest resistance of a high splice or a leak. */
  ohm: number | null;
  spot: Spot | null;
  /** Position in the list of the first explanation these readings cannot tell from this one; its own for none. */
  answer: number;
}

/** Explanations that these readings cannot tell apart, as positions in their list; the likeliest first. */
export interface Answer {
  members: number[];
  /** Sum of theirs. */
  probability: number;
}

/** What the readings cannot tell apart taken together, most probable first: the answers of crates/faults/src/groups.rs. */
export function answersOf(explanations: Pick<Explanation, 'answer' | 'probability'>[]): Answer[] {
  const all = new Map<number, Answer>();
  explanations.forEach(({ answer, probability }, i) => {
    const before = all.get(answer) ?? { members: [], probability: 0 };
    all.set(answer, { members: [...before.members, i], probability: before.probability + probability });
  });
  return [...all.values()].sort((a, b) => b.probability - a.probability);
}

export interface Ranking {
  explanations: Explanation[];
  healthy: number;
  /** The readings beside what the nearest fault would give, when nothing comes near. */
  unexplained: Compared[] | null;
}

export interface Ground {
  runs: LaidRun[];
  /** Tags of the racks. */
  racks: string[];
  /** Where a joint, loudspeaker, rack or stub is. */
  place(id: string): Point | null;
}

/** Explains readings; lengths in its sentences are in `unit`. */
export function rank(
  table: Table,
  rules: Rules,
  readings: Shown[],
  opened: string[],
  ground: Ground,
  unit: LengthUnit = 'm',
  insulation: Insulation = null,
): Ranking {
  const weighed = weigh(table, rules, readings, opened, insulation);
  const rule = rules.rank;
  const p = weighed.probability;
  const order = table.hypotheses
    .map((_, h) => h)
    .filter((h) => p[h]! >= rule.listed)
    .sort((a, b) => p[b]! - p[a]!);
  const values = table.places.map((place) => valuesAt(place, table, readings));
  /** Per explanation, what is predicted at each place at the points the readings allow. */
  const seen = order.map((h) => {
    const { first, count } = table.hypotheses[h]!;
    const log = weighed.log_probability.subarray(first, first + count);
    const least = log.reduce((a, b) => Math.max(a, b), -Infinity) - rule.allowed;
    const points = [...log.keys()].filter((n) => log[n]! >= least);
    return points.map((n) => table.places.map((place) => place.predictions[place.of_point[first + n]!]!));
  });
  // A leak that was measured tells those apart that let earth in and those that do not.
  const leak = (i: number) => leaks(table.hypotheses[order[i]!]!.fault, rules.weigh, insulation);
  const same = (i: number, j: number) =>
    leak(i) === leak(j) && seen[i]!.some((a) => seen[j]!.some((b) => alike(a, b, values, rule.alike)));
  const groups: number[][] = [];
  order.forEach((_, i) => {
    const group = groups.find((g) => g.every((other) => same(other, i)));
    if (group) group.push(i);
    else groups.push([i]);
  });
  const explanations = order.map((h, i): Explanation => {
    const hypothesis = table.hypotheses[h]!;
    const stretch = stretchOf(table, weighed, h, ground.runs, rule);
    const ohm = size(table, weighed, h);
    return {
      fault: hypothesis.fault,
      probability: p[h]!,
      sentence: sentence(hypothesis, stretch, ohm, unit),
      stretch,
      ohm,
      spot: spotOf(hypothesis.fault, stretch, table.line, ground),
      answer: groups.find((g) => g.includes(i))![0]!,
    };
  });
  const healthy = table.hypotheses.findIndex((h) => h.fault.kind === 'healthy');
  return {
    explanations,
    healthy: p[healthy] ?? 0,
    unexplained: farOff(table, weighed, readings, rule.far_off),
  };
}

function alike(a: Prediction[], b: Prediction[], values: Value[][], near: number): boolean {
  let squared = 0;
  for (let place = 0; place < a.length; place++) {
    const [x, y] = [a[place]!, b[place]!];
    const used: number[] = [];
    for (const { quantity } of values[place]!) {
      const [m, n] = [x.mean[quantity]!, y.mean[quantity]!];
      if (m !== null && n !== null) {
        const variance = 0.5 * (covariance(x, quantity, quantity) + covariance(y, quantity, quantity));
        // One quantity alone that tells them apart is enough, and quickly found.
        if ((m - n) ** 2 > near * near * variance) return false;
        used.push(quantity);
      } else if (m !== n) return false;
    }
    squared += gauss(
      used.length,
      (i, j) => 0.5 * (covariance(x, used[i]!, used[j]!) + covariance(y, used[i]!, used[j]!)),
      (i) => x.mean[used[i]!]! - y.mean[used[i]!]!,
    )[1];
  }
  return squared < near * near;
}

/** Parameter and share of the hypothesis's probability per point of its grid. */
function cells(table: Table, weighed: Weighed, h: number): [number, number][] {
  const { first, count } = table.hypotheses[h]!;
  const total = Math.max(weighed.probability[h]!, 1e-300);
  const all: [number, number][] = [];
  for (let n = first; n < first + count; n++) {
    const parameter = table.parameters[n]!;
    if (parameter !== null) all.push([parameter, Math.exp(weighed.log_probability[n]!) / total]);
  }
  return all;
}

/** Resistance of a high splice or a leak, ohm: geometric mean over the posterior. */
function size(table: Table, weighed: Weighed, h: number): number | null {
  const { kind } = table.hypotheses[h]!.fault;
  if (kind !== 'high_splice' && kind !== 'wet') return null;
  const all = cells(table, weighed, h);
  return all.length ? Math.exp(all.reduce((s, [ohm, share]) => s + share * Math.log(ohm), 0)) : null;
}

function stretchOf(
  table: Table,
  weighed: Weighed,
  h: number,
  runs: LaidRun[],
  { placed, tail }: Rules['rank'],
): Stretch | null {
  const { fault } = table.hypotheses[h]!;
  if (fault.kind !== 'short_along' && fault.kind !== 'open') return null;
  const run = runs.find((r) => r.line === table.line && r.id === fault.run);
  const all = cells(table, weighed, h);
  if (!run || !all.length) return null;
  if (fault.kind === 'open' && all.every(([, share]) => share < placed / all.length)) return null;
  const half = 0.5 / all.length;
  const at = (wanted: number) => {
    let sum = 0;
    for (const [fraction, weight] of all) {
      if (sum + weight >= wanted)
        return fraction - half + (2 * half * (wanted - sum)) / Math.max(weight, 1e-12);
      sum += weight;
    }
    return 1;
  };
  const m = (share: number) => at(share) * run.electrical_m;
  const { from, to, electrical_m: length_m } = run;
  return { run: run.id, from, to, low_m: m(tail), likely_m: m(0.5), high_m: m(1 - tail), length_m };
}

function sentence(h: Hypothesis, s: Stretch | null, ohm: number | null, unit: LengthUnit): string {
  if (s) {
    const m = (x: number) => runLength(x, unit);
    const values = {
      run: s.run,
      from: s.from,
      to: s.to,
      length: m(s.length_m),
      likely: m(s.likely_m),
      rest: m(s.length_m - s.likely_m),
      low: m(s.low_m),
      high: m(s.high_m),
    };
    return h.fault.kind === 'open'
      ? say(
          'Run {run} ({from} to {to}, {length} of cable as laid) is open: cut {likely} from {from} and {rest} from {to} (95 times in 100 between {low} and {high} from {from}).',
          values,
        )
      : say(
          'Run {run} ({from} to {to}, {length} of cable as laid) is shorted, as by a staple, {likely} from {from} and {rest} from {to} (95 times in 100 between {low} and {high} from {from}).',
          values,
        );
  }
  const said = told(h, unit);
  if (ohm === null) return said;
  const about = ohm < 10 ? ohm.toFixed(1) : Number(ohm.toPrecision(2)).toFixed(0);
  return say('{said} (about {ohm} ohm).', { said: said.replace(/\.$/, ''), ohm: about });
}

function spotOf(fault: Fault, s: Stretch | null, line: string, ground: Ground): Spot | null {
  const here = (id: string): Spot | null => {
    const at = ground.place(id);
    return at && { at, way: [at] };
  };
  switch (fault.kind) {
    case 'healthy':
    case 'swapped':
      return null;
    case 'open':
    case 'short_along':
    case 'high_splice': {
      const run = ground.runs.find((r) => r.line === line && r.id === fault.run);
      if (!run) return null;
      const share = (m: number) => Math.min(1, Math.max(0, m / (s?.length_m ?? 1)));
      return s
        ? { at: along(run.way, share(s.likely_m)), way: piece(run.way, share(s.low_m), share(s.high_m)) }
        : { at: along(run.way, whereOf(fault, ground.racks.includes(run.from))), way: run.way };
    }
    case 'short_at':
    case 'wet':
    case 'swapped_at':
      return here(fault.joint);
    default:
      return here(fault.load);
  }
}

/** Share of a run at which it is shown: a splice is at an end, the one nearer to the rack, but not at the rack itself. */
function whereOf(fault: Fault, fromRack: boolean): number {
  if (fault.kind !== 'high_splice') return 0.5;
  return fromRack ? 1 : 0;
}

/** The point a share of the length along a way. */
export function along(way: Point[], share: number): Point {
  let left = share * wayLength(way);
  for (let i = 1; i < way.length; i++) {
    const [a, b] = [way[i - 1]!, way[i]!];
    const leg = distance(a, b);
    if (left <= leg && leg > 0) {
      const t = left / leg;
      return [a[0] + t * (b[0] - a[0]), a[1] + t * (b[1] - a[1])];
    }
    left -= leg;
  }
  return way.at(-1)!;
}

/** The part of a way between two shares of its length. */
function piece(way: Point[], low: number, high: number): Point[] {
  const total = wayLength(way);
  let sum = 0;
  const inside = way.filter((b, i) => {
    if (i) sum += distance(way[i - 1]!, b);
    return sum > low * total && sum < high * total;
  });
  return [along(way, low), ...inside, along(way, high)];
}

function farOff(table: Table, weighed: Weighed, readings: Shown[], far: number): Compared[] | null {
  let nearest = 0;
  weighed.deviations.forEach((d, i) => {
    if (d < weighed.deviations[nearest]!) nearest = i;
  });
  if (weighed.deviations[nearest]! <= far) return null;
  return readings.flatMap(({ at, frequency_hz, ohm: read_ohm }) => {
    const place = placeOf(table, at);
    const index = place ? frequencyAt(place, frequency_hz) : -1;
    if (!place || index < 0) return [];
    const mean = place.predictions[place.of_point[nearest]!]!.mean[index]!;
    const would_ohm = mean === null ? null : Math.exp(mean) - table.offset_ohm;
    return [{ at, frequency_hz, read_ohm, would_ohm }];
  });
}
