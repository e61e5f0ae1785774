/**
 * A line's readings over the years: a straight line by least squares through the logarithm of each series, as in
 * crates/faults/src/drift.rs.
 */
import type { Rules } from './rules';

export interface YearReading {
  /** Years since the first reading. */
  year: number;
  ohm: number;
}

export interface Drift {
  /** Relative change per year. */
  per_year: number;
  now_ohm: number;
  /** Years until the limit is passed; 0 when it is passed; `null` when it is far. */
  years_left: number | null;
}

/** A fitted value this close to its limit, relative, is at it, whatever the rounding of the fit. */
const AT_THE_LIMIT = 1e-9;

/**
 * `null` with fewer than two different years, a reading that is no resistance, a limit or a rate that is none. `deviation` is the relative standard
 * deviation of one reading of an unchanged line. A limit ahead is told only where the slope is surely the wrong way.
 */
export function drift(
  readings: YearReading[],
  limit_ohm: number,
  rising_is_bad: boolean,
  deviation: number,
  rule: Rules['years'],
): Drift | null {
  if (!(limit_ohm > 0) || !Number.isFinite(limit_ohm)) return null;
  if (readings.length < 2 || readings.some((r) => !(r.ohm > 0) || !Number.isFinite(r.ohm + r.year)))
    return null;
  const mean = (value: (r: YearReading) => number) =>
    readings.reduce((s, r) => s + value(r), 0) / readings.length;
  const [year, log] = [mean((r) => r.year), mean((r) => Math.log(r.ohm))];
  const spread = readings.reduce((s, r) => s + (r.year - year) ** 2, 0);
  if (spread <= 0) return null;
  const slope = readings.reduce((s, r) => s + (r.year - year) * (Math.log(r.ohm) - log), 0) / spread;
  const squares = readings.reduce((s, r) => s + (Math.log(r.ohm) - log - slope * (r.year - year)) ** 2, 0);
  const scatter = readings.length > 2 ? Math.sqrt(squares / (readings.length - 2)) : 0;
  const error = Math.max(scatter, deviation) / Math.sqrt(spread);
  // Far apart and of one day or two, they say nothing of years: the rate is beyond all numbers.
  if (!Number.isFinite(Math.expm1(slope + rule.sure * error))) return null;
  const last = Math.max(...readings.map((r) => r.year));
  const now = log + slope * (last - year);
  const sign = rising_is_bad ? 1 : -1;
  const left = sign * (Math.log(limit_ohm) - now);
  const years = left / (sign * slope);
  const sure = sign * slope > rule.sure * error;
  const years_left = left <= AT_THE_LIMIT ? 0 : sure && years <= rule.ahead_years ? years : null;
  return { per_year: Math.expm1(slope), now_ohm: Math.exp(now), years_left };
}

const DAY_MS = 86_400_000;

/** Years between two days given as year-month-day. */
export const yearsBetween = (first: string, day: string, rule: Rules['years']) =>
  (Date.parse(day) - Date.parse(first)) / (rule.days_a_year * DAY_MS);
