/** Series of readings over the visits of a job. */
import { readingsOf, type FullVisit } from './document';
import { drift, yearsBetween, type Drift } from './drift';
import type { ExpectedLine } from './shapes';
import { builtTo, expectedFor, judge, verdictWords, type Verdict } from './verdict';

export interface Series {
  /** "DC", "1 kHz", "to earth". */
  hz: number | 'earth';
  readings: {
    visit: string;
    date: string;
    ohm: number;
    above: boolean;
    verdict: Verdict | null;
    words: string;
  }[];
  drift: Drift | null;
  limit_ohm: number;
}

/** What one reading of an unchanged line errs by, relative, as in crates/study/src/years.rs: to earth; of the loop 1 % of
 * the meter, 8 K of copper and 0.05 ohm. */
const LEAKAGE_DEVIATION = 0.2;
const loopDeviation = (ohm: number) => Math.hypot(0.01, 0.00393 * 8, 0.05 / Math.max(ohm, 1e-9));

/**
 * A line's readings at the rack, by kind, oldest first. The limit of a resistance is the top of what sound lines read,
 * that of insulation what is called sound (common practice, no source).
 */
export function seriesOf(
  visits: Record<string, FullVisit>,
  line: string,
  expected: ExpectedLine | undefined,
): Series[] {
  const all = new Map<number | 'earth', Series['readings']>();
  const byDate = Object.entries(visits).sort(([, a], [, b]) => a.date.localeCompare(b.date));
  for (const [visit, v] of byDate) {
    for (const [, r] of readingsOf(v, line)) {
      if (r.at !== null) continue;
      const hz =
        r.leakage !== null
          ? 'earth'
          : r.dc !== null
            ? 0
            : r.impedance !== null
              ? (r.frequency ?? 1000)
              : null;
      const ohm = r.leakage ?? r.dc ?? r.impedance;
      if (hz === null || ohm === null) continue;
      const series = all.get(hz) ?? [];
      // Measured again on the same visit: the later one counts.
      const rest = series.filter((x) => x.visit !== visit);
      const judged = judge(r, expected, builtTo(visits, v, line, expected));
      // A line that was being built is not yet the one that drifts.
      if (judged?.stage) continue;
      const [verdict, words] = judged ? [judged.grade, verdictWords(judged, r)] : [null, 'not judged'];
      all.set(hz, [...rest, { visit, date: v.date, ohm, above: r.above, verdict, words }]);
    }
  }
  return [...all].map(([hz, readings]) => {
    const limit_ohm =
      (hz === 'earth'
        ? expected && 1e6 * expected.leakage_mohm
        : expectedFor(expected?.readings ?? [], null, hz)?.high_ohm) ?? Number.NaN;
    const first = readings[0]!.date;
    const used = readings
      .filter((r) => !r.above)
      .map((r) => ({ year: yearsBetween(first, r.date), ohm: r.ohm }));
    const mean = used.reduce((s, r) => s + r.ohm, 0) / Math.max(used.length, 1);
    const deviation = hz === 'earth' ? LEAKAGE_DEVIATION : loopDeviation(mean);
    const rising = drift(used, limit_ohm, hz !== 'earth', deviation);
    // A loop has two sides: where it does not run into the upper one, the lower one counts.
    const low_ohm = hz === 'earth' ? null : expectedFor(expected?.readings ?? [], null, hz)?.low_ohm;
    const falling = low_ohm && rising?.years_left === null ? drift(used, low_ohm, false, deviation) : null;
    if (falling && falling.years_left !== null) return { hz, readings, limit_ohm: low_ohm!, drift: falling };
    return { hz, readings, limit_ohm, drift: rising };
  });
}
