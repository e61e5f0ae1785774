/** What a single reading says at once: as it should be, doubtful or wrong. */
import type { MeterReading } from './document';
import type { Shown } from './evaluate';
import type { Expected, ExpectedLine } from './shapes';

export type Verdict = 'fine' | 'doubtful' | 'wrong';
export const WORDS: Record<Verdict, string> = { fine: 'sound', doubtful: 'doubtful', wrong: 'wrong' };

/** 95 of 100 sound lines lie within this many standard deviations, 999 of 1000 within that many. */
const TWO_SIDED_95 = 1.959964;
const TWO_SIDED_999 = 3.290527;
/** A frequency this near is the same, relative: meters are not exact. */
const SAME_HZ = 0.02;
/** Insulation down to this share of what a sound line has is doubtful, below it wrong (common practice, no source). */
const DOUBTFUL_LEAKAGE = 0.1;

/** A line's reading as the ranking takes it; `null` for leakage and level. */
export function shownOf(r: MeterReading): Shown | null {
  const ohm = r.dc ?? r.impedance;
  if (ohm === null) return null;
  return { at: r.at, frequency_hz: r.dc !== null ? 0 : (r.frequency ?? 1000), ohm: r.above ? null : ohm };
}

/** The expected reading a reading belongs to. */
export function expectedFor(all: Expected[], at: string | null, hz: number): Expected | undefined {
  return all.find(
    (e) => e.at === at && (hz === 0 ? e.frequency_hz === 0 : Math.abs(e.frequency_hz / hz - 1) <= SAME_HZ),
  );
}

/** `null` when nothing is expected of such a reading. */
export function verdictOf(r: MeterReading, line: ExpectedLine | undefined): Verdict | null {
  if (!line) return null;
  if (r.leakage !== null) {
    const share = r.leakage / (1e6 * line.leakage_mohm);
    if (r.above || share >= 1) return 'fine';
    return share >= DOUBTFUL_LEAKAGE ? 'doubtful' : 'wrong';
  }
  const shown = shownOf(r);
  const e = shown && expectedFor(line.readings, shown.at, shown.frequency_hz);
  if (!shown || !e) return null;
  if (e.ohm === null || e.low_ohm === null || e.high_ohm === null)
    return shown.ohm === null ? 'fine' : 'wrong';
  if (shown.ohm === null || shown.ohm <= 0) return 'wrong';
  const deviation = Math.log(e.high_ohm / e.low_ohm) / (2 * TWO_SIDED_95);
  const off = Math.abs(Math.log(shown.ohm / e.ohm)) / deviation;
  return off <= TWO_SIDED_95 ? 'fine' : off <= TWO_SIDED_999 ? 'doubtful' : 'wrong';
}

/** What a ranking says of the whole line. */
export const lineVerdict = (healthy: number, unexplained: boolean): Verdict =>
  unexplained ? 'wrong' : healthy > 0.8 ? 'fine' : healthy > 0.3 ? 'doubtful' : 'wrong';

/** Of several readings, the latest per place and frequency: whoever measured again meant the later one. */
export function latest(readings: MeterReading[]): Shown[] {
  const all = new Map<string, Shown>();
  for (const r of readings) {
    const shown = shownOf(r);
    if (!shown) continue;
    const key = `${shown.at ?? ''}|${shown.frequency_hz}`;
    all.delete(key);
    all.set(key, shown);
  }
  return [...all.values()];
}
