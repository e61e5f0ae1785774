/**
 * What a single reading says at once: good, doubtful or bad. The rule is that of crates/faults/src/judge.rs and
 * crates/study/src/judged.rs; every limit comes with what was taken along, so that phone, office and papers agree.
 */
import type { FullVisit, MeterReading } from './document';
import { keptOf } from './document';
import type { Shown } from './evaluate';
import type { Expected, ExpectedLine } from './shapes';

export type Verdict = 'good' | 'doubtful' | 'bad';
export const WORDS: Record<Verdict, string> = { good: 'good', doubtful: 'doubtful', bad: 'bad' };
export type Says = 'within' | 'low' | 'high' | 'short' | 'open';
export interface Judgement {
  grade: Verdict;
  says: Says;
  /** The joint the line was built to, where it is not held against the finished line. */
  stage?: string;
}

/** A line's reading as the ranking takes it; `null` for leakage and level. */
export function shownOf(r: MeterReading): Shown | null {
  const ohm = r.dc ?? r.impedance;
  if (ohm === null) return null;
  return { at: r.at, frequency_hz: r.dc !== null ? 0 : (r.frequency ?? 1000), ohm: r.above ? null : ohm };
}

/** The expected reading a reading belongs to. */
export function expectedFor(all: Expected[], at: string | null, hz: number): Expected | undefined {
  return all.find((e) => e.at === at && Math.abs(e.frequency_hz - hz) < 1e-9);
}

/** How far a line was built: finished, as far as a joint, or not known. */
export type Built = { joint: string } | 'finished' | 'unknown';

/** How far a line was built at a visit, by the runs ticked off as laid at it and before it. */
export function builtTo(
  visits: Record<string, FullVisit>,
  visit: FullVisit | undefined,
  line: string,
  expected: ExpectedLine | undefined,
): Built {
  if (!visit || visit.kind !== 'building' || !expected?.runs) return 'finished';
  const laid = new Set(
    Object.values(visits)
      .filter((v) => v.date <= visit.date)
      .flatMap((v) => Object.entries(v.done).filter(([id]) => !keptOf(v, 'done', id)))
      .filter(([, d]) => d.work === 'laid' && d.line === line)
      .map(([, d]) => d.run),
  );
  if (!laid.size) return 'unknown';
  const isLaid = (joint: string) => expected.runs!.some((r) => r.to === joint && laid.has(r.id));
  const missing = expected.stages.findIndex((s) => !isLaid(s.joint));
  if (missing < 0) return 'finished';
  if (missing === 0 || expected.stages.slice(missing).some((s) => isLaid(s.joint))) return 'unknown';
  return { joint: expected.stages[missing - 1]!.joint };
}

/** What a reading of a loop says against what is expected; `null` where the meter's range ends below that. */
function judgeLoop(e: Expected, ohm: number, above: boolean): Judgement | null {
  const bad = (says: Says): Judgement => ({ grade: 'bad', says });
  if (e.low_ohm === null || e.high_ohm === null)
    return above ? { grade: 'good', says: 'within' } : bad('low');
  if (above) return ohm < e.high_ohm ? null : bad('open');
  if (ohm >= e.low_ohm && ohm <= e.high_ohm) return { grade: 'good', says: 'within' };
  const far = ohm < (e.far_low_ohm ?? e.low_ohm) || ohm > (e.far_high_ohm ?? e.high_ohm);
  const short = far && typeof e.short_ohm === 'number' && ohm <= e.short_ohm;
  const says = ohm > e.high_ohm ? 'high' : short ? 'short' : 'low';
  return { grade: far ? 'bad' : 'doubtful', says };
}

/** `null` when nothing can be told of such a reading. */
export function judge(
  r: MeterReading,
  line: ExpectedLine | undefined,
  built: Built = 'finished',
): Judgement | null {
  if (!line) return null;
  if (r.leakage !== null) {
    const mohm = r.leakage / 1e6;
    if (mohm >= line.leakage_mohm) return { grade: 'good', says: 'within' };
    if (r.above) return null;
    return {
      grade: mohm >= (line.leakage_doubtful_mohm ?? line.leakage_mohm) ? 'doubtful' : 'bad',
      says: 'low',
    };
  }
  const ohm = r.dc ?? r.impedance;
  const hz = r.dc !== null ? 0 : (r.frequency ?? 1000);
  const finished = ohm === null ? undefined : expectedFor(line.readings, r.at, hz);
  if (ohm === null || !finished) return null;
  let against: { stage?: string; e: Expected }[] = [{ e: finished }];
  if (r.at === null && built !== 'finished') {
    const stages = line.stages.slice(0, -1).reverse();
    const here = stages
      .filter((s) => built === 'unknown' || s.joint === built.joint)
      .map((s) => ({ stage: s.joint, e: expectedFor(s.readings, null, hz) }))
      .filter((s): s is { stage: string; e: Expected } => s.e !== undefined);
    against = built === 'unknown' ? [...against, ...here] : here;
  }
  const shown = (e: Expected) => judgeLoop(e, ohm, r.above);
  const fits = against.find(({ e }) => shown(e)?.grade === 'good') ?? against[0];
  const judged = fits ? shown(fits.e) : null;
  return judged && fits?.stage ? { ...judged, stage: fits.stage } : judged;
}

export const verdictOf = (
  r: MeterReading,
  line: ExpectedLine | undefined,
  built: Built = 'finished',
): Verdict | null => judge(r, line, built)?.grade ?? null;

const SAYS: Record<Says, string> = {
  within: '',
  low: 'too low',
  high: 'too high',
  short: 'too low, as a short reads',
  open: 'open',
};

/** The verdict in a few words: "good", "bad: too low, as a short reads". */
export function verdictWords(j: Judgement, r: MeterReading): string {
  const why = r.leakage !== null && j.says === 'low' ? 'it leaks' : SAYS[j.says];
  return why ? `${WORDS[j.grade]}: ${why}` : WORDS[j.grade];
}

/** What a ranking says of the whole line. */
export const lineVerdict = (healthy: number, unexplained: boolean): Verdict =>
  unexplained ? 'bad' : healthy > 0.8 ? 'good' : healthy > 0.3 ? 'doubtful' : 'bad';

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
