/** Series of readings over the visits of a job, as in crates/study/src/years.rs. */
import { keptOf, type FullVisit } from './document';
import { say } from '../words/spoken.svelte';
import { drift, yearsBetween, type Drift } from './drift';
import type { Rules } from './rules';
import type { ExpectedLine, JudgedReading } from './shapes';
import {
  builtTo,
  expectedFor,
  judge,
  measuredOf,
  verdictWords,
  type Judgement,
  type Verdict,
} from './verdict';

export interface Series {
  /** Frequency of a reading of the loop, 0 for direct current; to earth. */
  hz: number | 'earth';
  readings: {
    visit: string;
    date: string;
    /** `null` for an open line. */
    ohm: number | null;
    above: boolean;
    verdict: Verdict | null;
    words: string;
  }[];
  drift: Drift | null;
  /** What it must not pass; `null` where nothing is known of such a reading. */
  limit_ohm: number | null;
  /** What it comes to if it goes on so, where it is not sure to move at all. */
  may_pass: { limit_ohm: number; years: number } | null;
}

/** What one reading of an unchanged line errs by, relative. */
const deviationOf = (hz: Series['hz'], ohm: number, rule: Rules['years']) =>
  hz === 'earth'
    ? rule.leakage
    : Math.hypot(rule.meter, rule.temperature, rule.meter_floor_ohm / Math.max(ohm, 1e-9));

/**
 * A line's readings at the rack, by kind, oldest first. The limit of a resistance is the end of what good lines read that
 * it moves towards, that of insulation what is called good. What was read before the line was changed stands in it with the office's
 * verdict, where it is of the insulation or the equipment is still the same.
 */
export function seriesOf(
  visits: Record<string, FullVisit>,
  line: string,
  expected: ExpectedLine | undefined,
  rules: Rules,
  office: JudgedReading[] = [],
): Series[] {
  const all = new Map<Series['hz'], Series['readings']>();
  const byDate = Object.entries(visits).sort(([, a], [, b]) => a.date.localeCompare(b.date));
  for (const [visit, v] of byDate) {
    const built = builtTo(visits, v, line, expected);
    for (const [id, r] of Object.entries(v.readings).filter(([, x]) => x.line === line)) {
      const measured = r.at === null ? measuredOf(r) : null;
      if (!measured) continue;
      const kept = keptOf(v, 'readings', id) !== null;
      const before = kept ? office.find((x) => x.visit === visit && x.reading === id) : undefined;
      const another = before?.replaced !== false || (measured.hz !== 'earth' && before.other_equipment);
      if (kept && another) continue;
      const judged: Judgement | null = before
        ? { grade: before.grade, says: before.says, stage: before.stage ?? undefined }
        : judge(r, expected, rules, built);
      // A line that was being built is not yet the one that drifts.
      if (judged?.stage) continue;
      const { hz, ohm } = measured;
      // Measured again on the same visit: the later one counts.
      const rest = (all.get(hz) ?? []).filter((x) => x.visit !== visit);
      const verdict = judged?.grade ?? null;
      const words = judged ? verdictWords(judged, r) : say('not judged');
      all.set(hz, [...rest, { visit, date: v.date, ohm, above: r.above, verdict, words }]);
    }
  }
  return [...all].map(([hz, readings]) => ({ hz, readings, ...trendOf(hz, readings, expected, rules) }));
}

/**
 * The readings that tell how a line moves: what was bad until a good reading was a fault that somebody mended, and the series
 * begins anew after it; what was doubtful until then is left out; what is not good now counts, but for a loop that was good and
 * reads bad once, at last: that has jumped, which is a fault and no rate.
 */
function counted(readings: Series['readings'], isLoop: boolean): Series['readings'] {
  const verdicts = readings.map((r) => r.verdict);
  const lastGood = verdicts.lastIndexOf('good');
  if (lastGood < 0) return readings;
  const mended = verdicts.slice(0, lastGood).lastIndexOf('bad');
  const jump = isLoop && lastGood + 2 === readings.length;
  const counts = (r: Series['readings'][0], k: number) => {
    if (r.verdict === null || r.verdict === 'good') return true;
    return r.verdict === 'bad' && jump ? false : k > lastGood;
  };
  return readings.filter((r, k) => k > mended && counts(r, k));
}

/** The limit a series moves towards, and how. A loop has two sides: the lower one counts where only that one is near. */
function trendOf(
  hz: Series['hz'],
  readings: Series['readings'],
  expected: ExpectedLine | undefined,
  { judge: { leakage_mohm }, years: rule }: Rules,
): Pick<Series, 'limit_ohm' | 'drift' | 'may_pass'> {
  const here = hz === 'earth' ? undefined : expectedFor(expected?.readings ?? [], null, hz);
  const limits: [number, boolean][] =
    hz === 'earth'
      ? [[1e6 * leakage_mohm, false]]
      : [
          ...(here && here.high_ohm !== null ? [[here.high_ohm, true] as [number, boolean]] : []),
          ...(here && here.low_ohm !== null ? [[here.low_ohm, false] as [number, boolean]] : []),
        ];
  const told = counted(readings, hz !== 'earth');
  const first = told[0]!.date;
  const used = told.flatMap((r) =>
    r.above || r.ohm === null ? [] : [{ year: yearsBetween(first, r.date, rule), ohm: r.ohm }],
  );
  const mean = used.reduce((s, r) => s + r.ohm, 0) / Math.max(used.length, 1);
  const deviation = deviationOf(hz, mean, rule);
  const trends = limits.map(([limit_ohm, rising]) => ({
    limit_ohm,
    drift: drift(used, limit_ohm, rising, deviation, rule),
  }));
  const warned = trends.find((t) => t.drift && t.drift.years_left !== null);
  if (warned) return { ...warned, may_pass: null };
  const may_pass = trends.map((t) => mayPass(t, rule)).find((may) => may !== null) ?? null;
  return { ...(trends[0] ?? { limit_ohm: null, drift: null }), may_pass };
}

/** A limit passed within the years ahead by a series that goes on as it did, towards either side. */
function mayPass(
  { limit_ohm, drift }: { limit_ohm: number; drift: Drift | null },
  rule: Rules['years'],
): Series['may_pass'] {
  if (!drift) return null;
  const years = Math.log(limit_ohm / drift.now_ohm) / Math.log1p(drift.per_year);
  return years > 0 && years <= rule.ahead_years ? { limit_ohm, years } : null;
}
