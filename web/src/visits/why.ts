/** Answers to "why?" without a network: from the table of the line, the same numbers the ranking is made of. */
import type { Why } from '../lib/why';
import {
  covariance,
  frequencyAt,
  placeOf,
  weigh,
  type Fault,
  type Insulation,
  type Prediction,
  type Shown,
  type Table,
} from './evaluate';
import type { Rules } from './rules';
import { runLength } from '../lib/told';
import { ohms, type LengthUnit } from '../lib/units';
import { say } from '../words/spoken.svelte';
import { seesWords, type Sees } from './sees';
import { atWords, interval } from './words';
import type { Expected, ExpectedLine } from './shapes';

const spread = () =>
  say(
    'nodal analysis of the line, spread to first order from how much good lines differ (common practice, no source)',
  );

const share = (p: number) => `${(100 * p).toFixed(p >= 0.1 ? 0 : 1)} %`;
const shownWords = (ohm: number | null) => (ohm === null ? say('an open line') : ohms(ohm));
const whereWords = (at: string | null) =>
  at === null ? say('at the rack') : say('at {at}, looking away from the rack', { at });

/** What a good line reads, from the line as taken along and the spread in its table. */
export function whyExpected(
  line: string,
  e: Expected,
  expected: ExpectedLine,
  table?: Table,
  unit: LengthUnit = 'm',
): Why {
  const steps = [];
  const cable = expected.runs.reduce((sum, r) => sum + r.electrical_m, 0);
  const loop = expected.runs.reduce((sum, r) => sum + r.loop_resistance_ohm, 0);
  steps.push(
    say(
      'Line {line} as it lay when the job was taken along: {cable} of cable, {ohm} there and back, with its loudspeakers solved as one network, the amplifier disconnected.',
      { line, cable: runLength(cable, unit), ohm: ohms(loop) },
    ),
  );
  steps.push(...seesWords([e.sees]));
  steps.push(
    say('{place}, {frequency}, a meter shows {shown}.', {
      place: whereWords(e.at),
      frequency: atWords(e.frequency_hz),
      shown: shownWords(e.ohm),
    }),
  );
  const place = table && placeOf(table, e.at);
  const f = place ? frequencyAt(place, e.frequency_hz) : -1;
  if (e.ohm !== null) {
    const off = f >= 0 ? Math.sqrt(covariance(place!.predictions[0]!, f, f)) : null;
    const usually =
      off === null
        ? ''
        : say(
            'Good lines usually differ from that by {percent} %: lengths, temperature, loudspeakers and the meter together.',
            { percent: (100 * off).toFixed(1) },
          );
    steps.push(`${usually} ${say('95 of 100 read {range}.', { range: interval(e) })}`.trim());
  }
  return { steps: steps.map((s) => s.charAt(0).toUpperCase() + s.slice(1)), source: spread() };
}

/** How likely an explanation is: what it was thought before, what it predicts, what it has now. */
export function whyRanked(
  table: Table,
  rules: Rules,
  fault: Fault,
  sentence: string,
  readings: Shown[],
  opened: string[],
  /** What each of them is a reading of on a good line. */
  sees: (Sees | undefined)[] = [],
  insulation: Insulation = null,
): Why {
  const weighed = weigh(table, rules, readings, opened, insulation);
  const h = table.hypotheses.findIndex((other) => other.fault === fault);
  const { first, count, weight } = table.hypotheses[h]!;
  let best = first;
  for (let point = first; point < first + count; point++)
    if (weighed.log_probability[point]! > weighed.log_probability[best]!) best = point;
  const all = table.hypotheses.reduce((sum, other) => sum + other.weight, 0);
  const steps = [say('Before any reading it was {share} likely.', { share: share(weight / all) })];
  for (const r of readings) {
    const place = placeOf(table, r.at)!;
    steps.push(
      predicted(r, place.predictions[place.of_point[best]!]!, frequencyAt(place, r.frequency_hz), table),
    );
  }
  steps.push(...seesWords(sees));
  if (readings.length > 1)
    steps.push(
      say('All readings together, with what moves them alike, are {times} times the usual difference away.', {
        times: weighed.deviations[best]!.toFixed(1),
      }),
    );
  if (opened.length)
    steps.push(say('Opened and found good: {joints}; that counts as well.', { joints: opened.join(', ') }));
  if (insulation !== null && insulation !== 'good')
    steps.push(say('It was measured that the line leaks to earth beyond its limit; that counts as well.'));
  steps.push(
    say('Weighed by that against everything else that can be wrong, it is {share} likely now.', {
      share: share(weighed.probability[h]!),
    }),
  );
  return {
    about: sentence,
    steps,
    source: say(
      "Bayes' rule over what can be wrong; {method}; how often things go wrong: common practice, no source",
      { method: spread() },
    ),
  };
}

function predicted(r: Shown, p: Prediction, f: number, table: Table): string {
  const mean = p.mean[f] ?? null;
  const ohm = mean === null ? null : Math.max(0, Math.exp(mean) - table.offset_ohm);
  const off =
    mean === null || r.ohm === null || r.ohm > table.meter_range_ohm
      ? null
      : (Math.log(r.ohm + table.offset_ohm) - mean) / Math.sqrt(covariance(p, f, f));
  const words =
    off === null
      ? ''
      : Math.abs(off) < 0.05
        ? say(', as predicted')
        : off > 0
          ? say(', {times} times the usual difference above', { times: Math.abs(off).toFixed(1) })
          : say(', {times} times the usual difference below', { times: Math.abs(off).toFixed(1) });
  const where = whereWords(r.at);
  return say('{place}, {frequency}, a meter would show {would} with it; it showed {shown}{off}.', {
    place: `${where.charAt(0).toUpperCase()}${where.slice(1)}`,
    frequency: atWords(r.frequency_hz),
    would: shownWords(ohm),
    shown: shownWords(r.ohm),
    off: words,
  });
}
