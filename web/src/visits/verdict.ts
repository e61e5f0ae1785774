/**
 * What a single reading says at once: good, doubtful or bad. The rule is that of crates/faults/src/judge.rs and
 * crates/study/src/judged.rs; every limit comes with what was taken along, so that phone, office and papers agree.
 */
import { say } from '../words/spoken.svelte';
import type { Rules } from './rules';
import type { FullVisit, MeterReading } from './document';
import { isOfReplaced } from './document';
import type { Shown } from './evaluate';
import type { Ranking } from './ranking';
import type { Expected, ExpectedLine } from './shapes';

export type Verdict = 'good' | 'doubtful' | 'bad';
export const WORDS: Record<Verdict, string> = { good: 'good', doubtful: 'doubtful', bad: 'bad' };
export type Says = 'within' | 'low' | 'high' | 'short' | 'open';
const UNKNOWN = { grade: null, says: null };
export interface Judgement {
  /** `null` where the meter's range ends below what is expected: nothing can be told. */
  grade: Verdict | null;
  says: Says | null;
  /** The joint the line was built to, where it is not held against the finished line. */
  stage?: string | undefined;
}

/** What was measured, and what the meter showed, ohm; `null` for an open line. */
export type Measured = { hz: 'earth'; ohm: number } | { hz: number; ohm: number | null };

/** What a reading measured, and what it showed; `null` for a level. An impedance has its frequency, or it is refused. */
export function measuredOf(r: MeterReading): Measured | null {
  const shown = (value: number | 'open') => (value === 'open' ? null : value);
  if (r.leakage !== null) return { hz: 'earth', ohm: r.leakage };
  if (r.dc !== null) return { hz: 0, ohm: shown(r.dc) };
  if (r.impedance !== null && r.frequency !== null) return { hz: r.frequency, ohm: shown(r.impedance) };
  return null;
}

/** A line's reading as the ranking takes it; `null` for leakage and level. */
export function shownOf(r: MeterReading): Shown | null {
  const measured = measuredOf(r);
  if (!measured || measured.hz === 'earth') return null;
  return { at: r.at, frequency_hz: measured.hz, ohm: r.above ? null : measured.ohm };
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
  visit: Pick<FullVisit, 'date' | 'kind'> | undefined,
  line: string,
  expected: ExpectedLine | undefined,
): Built {
  if (!visit || visit.kind !== 'building' || !expected) return 'finished';
  const laid = new Set(
    Object.values(visits)
      .filter((v) => v.date <= visit.date)
      .flatMap((v) => Object.entries(v.done).filter(([id]) => !isOfReplaced(v, 'done', id)))
      .filter(([, d]) => d.work === 'laid' && d.line === line)
      .map(([, d]) => d.run),
  );
  if (!laid.size) return 'unknown';
  const isLaid = (joint: string) => expected.runs.some((r) => r.to === joint && laid.has(r.id));
  const missing = expected.stages.findIndex((s) => !isLaid(s.joint));
  if (missing < 0) return 'finished';
  if (missing === 0 || expected.stages.slice(missing).some((s) => isLaid(s.joint))) return 'unknown';
  return { joint: expected.stages[missing - 1]!.joint };
}

/** What a reading of a loop says against what is expected. */
function judgeLoop(e: Expected, ohm: number | null, above: boolean): Judgement {
  const bad = (says: Says): Judgement => ({ grade: 'bad', says });
  if (e.low_ohm === null || e.high_ohm === null)
    return above || ohm === null ? { grade: 'good', says: 'within' } : bad('low');
  if (ohm === null) return bad('open');
  if (above) return ohm < e.high_ohm ? UNKNOWN : bad('open');
  if (ohm >= e.low_ohm && ohm <= e.high_ohm) return { grade: 'good', says: 'within' };
  const far = ohm < (e.far_low_ohm ?? e.low_ohm) || ohm > (e.far_high_ohm ?? e.high_ohm);
  const short = far && e.short_ohm !== null && ohm <= e.short_ohm;
  const says = ohm > e.high_ohm ? 'high' : short ? 'short' : 'low';
  return { grade: far ? 'bad' : 'doubtful', says };
}

/** What a resistance to earth says. */
function judgeLeakage(ohm: number, above: boolean, rule: Rules['judge']): Judgement {
  const mohm = ohm / 1e6;
  if (mohm >= rule.leakage_mohm) return { grade: 'good', says: 'within' };
  if (above) return UNKNOWN;
  return { grade: mohm >= rule.leakage_doubtful_mohm ? 'doubtful' : 'bad', says: 'low' };
}

/** `null` when there is nothing to hold such a reading against. */
export function judge(
  r: MeterReading,
  line: ExpectedLine | undefined,
  rules: Rules,
  built: Built = 'finished',
): Judgement | null {
  const measured = measuredOf(r);
  if (!measured) return null;
  if (measured.hz === 'earth') return judgeLeakage(measured.ohm, r.above, rules.judge);
  const { hz, ohm } = measured;
  const finished = line && expectedFor(line.readings, r.at, hz);
  if (!finished) return null;
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
  const fits = against.find(({ e }) => shown(e).grade === 'good') ?? against[0];
  if (!fits) return null;
  const judged = shown(fits.e);
  if (!fits.stage) return judged;
  // A finished line that is cut there reads the same.
  const grade = built === 'unknown' && judged.grade === 'good' ? 'doubtful' : judged.grade;
  return { ...judged, grade, stage: fits.stage };
}

export const verdictOf = (
  r: MeterReading,
  line: ExpectedLine | undefined,
  rules: Rules,
  built: Built = 'finished',
): Verdict | null => judge(r, line, rules, built)?.grade ?? null;

export const SAYS: Record<Says, string> = {
  within: '',
  low: 'too low',
  high: 'too high',
  short: 'too low, as a short reads',
  open: 'open',
};

/** The verdict in a few words: "good", "bad: too low, as a short reads", "good as far as L1". */
export function verdictWords(j: Judgement, r: MeterReading): string {
  if (j.grade === null || j.says === null) return say('not judged');
  const grade = say(WORDS[j.grade]);
  // Right as far as a joint, and nobody ticked off that the line ends there.
  if (j.says === 'within' && j.grade !== 'good')
    return j.stage
      ? say('{grade}: right only as far as {joint}', { grade, joint: j.stage })
      : say('{grade}: right only', { grade });
  const why = r.leakage !== null && j.says === 'low' ? say('it leaks') : say(SAYS[j.says]);
  const whole = j.stage ? say('{grade} as far as {joint}', { grade, joint: j.stage }) : grade;
  return why ? `${whole}: ${why}` : whole;
}

/** A line whose readings are right as far as a joint: as crates/study/src/judged/so_far.rs has it. */
export interface SoFar {
  grade: Verdict;
  sentence: string;
}

/** How far a line is built where its readings of a visit are right as far as a joint, and right at every joint opened. */
export function soFar(
  line: string,
  readings: MeterReading[],
  judged: (r: MeterReading) => Judgement | null,
): SoFar | null {
  // Of two of the same the later.
  const own = new Map<string, { at: string | null; j: Judgement | null }>();
  for (const r of readings) {
    const measured = measuredOf(r);
    if (!measured || measured.hz === 'earth') continue;
    const key = `${r.at ?? ''}|${measured.hz}`;
    own.delete(key);
    own.set(key, { at: r.at, j: judged(r) });
  }
  const all = [...own.values()];
  const joint = all.map(({ j }) => j?.stage).find((stage) => stage);
  const right = ({ at, j }: { at: string | null; j: Judgement | null }) =>
    at === null ? j?.stage === joint && j?.says === 'within' : !j?.grade || j.grade === 'good';
  if (!joint || !all.every(right)) return null;
  const grade = worst(all.map(({ j }) => j?.grade)) ?? 'good';
  const sentence =
    grade === 'good'
      ? say(
          'Line {line} reads as one built as far as {joint} and no farther. If more of it is laid, this explains its readings.',
          { line, joint },
        )
      : say(
          'Line {line} reads as one built as far as {joint} and no farther, and nothing ticked off says that it ends there. If more of it is laid, this explains its readings.',
          { line, joint },
        );
  return { grade, sentence };
}

/** The worst of several verdicts; `null` where nothing was judged. */
export const worst = (all: (Verdict | null | undefined)[]): Verdict | null =>
  (['bad', 'doubtful', 'good'] as const).find((v) => all.includes(v)) ?? null;

/** What a ranking says of the whole line. */
export const lineVerdict = (
  { healthy, unexplained }: Pick<Ranking, 'healthy' | 'unexplained'>,
  { judge: rule }: Rules,
): Verdict =>
  unexplained !== null
    ? 'bad'
    : healthy > rule.line_good
      ? 'good'
      : healthy > rule.line_doubtful
        ? 'doubtful'
        : 'bad';

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
