/**
 * The phone's copy of the rules of readings against the engine: random cases, each with what the engine says of it, that
 * crates/study/examples/phone_readings wrote into the file named by LOAMLINE_SETS. What the phone knows of the job, every
 * number of the rules among it, comes from the server that LOAMLINE_BIN names, as a phone takes it along.
 *
 * Compared are, one after the other:
 * - evaluate.ts: the probability of every explanation of a reading set, and that no other reaches the list;
 * - ranking.ts: which explanations are listed in which order, what cannot be told apart, stretches of runs, sizes of leaks
 *   and splices, places on the plan, sentences, and what the readings are held against where nothing explains them;
 * - next.ts: every test that is named, in order, with its bits, its minutes and what a good line reads;
 * - drift.ts: whether a series has a drift, its rate, the value now and the years left;
 * - verdict.ts: grade, side, stage and words of every reading of a book of visits, and of whole lines by their rankings;
 * - years.ts: every series of a line, its readings and their verdicts, its limit and its drift.
 *
 * What is discrete has to be the same, numbers to 1e-9 of themselves or to 1e-12.
 */
import { readFileSync } from 'node:fs';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import type { JobDocument } from '../../src/api/document';
import type { Point } from '../../src/lib/geometry';
import { endOf } from '../../src/plan/ways';
import { readingsOf, type FullVisit } from '../../src/visits/document';
import { drift, type Drift, type YearReading } from '../../src/visits/drift';
import { weigh, type Fault, type Insulation, type Shown } from '../../src/visits/evaluate';
import { testsOf, type Test } from '../../src/visits/next';
import { rank, type Ground, type Stretch } from '../../src/visits/ranking';
import type { Rules } from '../../src/visits/rules';
import { expectedOf, type VisitPack } from '../../src/visits/packed';
import type { ExpectedLine } from '../../src/visits/shapes';
import { builtTo, judge, lineVerdict, verdictWords, type Says, type Verdict } from '../../src/visits/verdict';
import { seriesOf, type Series } from '../../src/visits/years';
import { World } from '../world';

interface Explained {
  fault: Fault;
  probability: number;
  sentence: string;
  ohm: number | null;
  stretch: Stretch | null;
  at: Point | null;
  between: [Point, Point] | null;
}
interface ReadingSet {
  line: string;
  readings: Shown[];
  opened: string[];
  insulation: Insulation;
  explanations: Explained[];
  unexplained: string | null;
  grade: Verdict;
  answers: number[][];
  next: Test[];
  /** The frequency the engine would read a joint at. */
  joints_hz: number;
}
interface Trend {
  readings: YearReading[];
  limit_ohm: number;
  rising_is_bad: boolean;
  deviation: number;
  drift: Drift | null;
}
interface Book {
  visits: Record<string, FullVisit>;
  judged: {
    visit: string;
    reading: string;
    line: string;
    /** Of a line that was replaced later: those the phone leaves to the office. */
    kept: boolean;
    grade: Verdict | null;
    says: Says | null;
    stage: string | null;
    verdict: string;
  }[];
  series: Record<string, (Omit<Series, 'readings'> & { readings: Omit<Series['readings'][0], 'words'>[] })[]>;
}

const COUNT = 2000;
const AGREED = 1e-9;
/** Numbers no further apart than this are the same: what is left of a difference that should be nought. */
const NOTHING = 1e-12;

/** How far two numbers are apart, of themselves; infinitely far where only one is there. */
function apart(a: number | null, b: number | null): number {
  if (a === null || b === null) return a === b ? 0 : Infinity;
  const off = Math.abs(a - b);
  return off <= NOTHING ? 0 : off / Math.max(Math.abs(a), Math.abs(b));
}

/** The worst of many comparisons, with what it was of. */
class Worst {
  apart = 0;
  of: unknown = null;
  add(a: number | null, b: number | null, of: unknown) {
    const now = apart(a, b);
    if (now > this.apart) [this.apart, this.of] = [now, of];
  }
  expect() {
    expect(this.apart, JSON.stringify(this.of)).toBeLessThan(AGREED);
  }
  get words() {
    return `numbers differ by at most ${this.apart.toExponential(1)}`;
  }
}

const world = new World();
let cases: { sets: ReadingSet[]; trends: Trend[]; books: Book[] };
let pack: VisitPack;
let rules: Rules;
let lines: Record<string, ExpectedLine>;
let ground: Ground;

beforeAll(async () => {
  const file = process.env.LOAMLINE_SETS;
  if (!file) throw new Error('LOAMLINE_SETS names the file of cases; checks/test_web_visits.py makes it');
  cases = JSON.parse(readFileSync(file, 'utf8')) as typeof cases;
  await world.serve();
  pack = await world.read<VisitPack>(`/jobs/${await world.example('guesthouse-garden')}/visit-pack`);
  rules = pack.rules;
  lines = Object.fromEntries(Object.entries(pack.expect).map(([line, l]) => [line, expectedOf(l)]));
  const document: JobDocument = pack.resolved;
  ground = { runs: pack.runs, racks: Object.keys(document.racks), place: (id) => endOf(document, id) };
}, 60_000);
afterAll(() => world.stop());

/** The frequency that the table of a line has at its joints. */
const jointsHz = (line: string) =>
  pack.tables[line]!.places.find((p) => p.place !== 'rack')!.frequencies_hz.find((hz) => hz > 0);
const key = (fault: Fault) => JSON.stringify(fault);

describe('the phone', () => {
  it('weighs explanations as the engine does', () => {
    expect(cases.sets.length).toBeGreaterThanOrEqual(COUNT);
    const worst = new Worst();
    let faults = 0;
    for (const set of cases.sets) {
      const table = pack.tables[set.line]!;
      const { probability } = weigh(table, rules, set.readings, set.opened, set.insulation);
      const engine = new Map(set.explanations.map((e) => [key(e.fault), e.probability]));
      table.hypotheses.forEach((h, i) => {
        const theirs = engine.get(key(h.fault));
        if (theirs !== undefined) worst.add(theirs, probability[i]!, [set.readings, h.fault]);
        else expect(probability[i]!).toBeLessThan(rules.rank.listed);
        engine.delete(key(h.fault));
      });
      expect([...engine.keys()]).toEqual([]);
      if (set.explanations[0]!.fault.kind !== 'healthy') faults++;
    }
    console.log(`${cases.sets.length} reading sets, ${faults} of them with a fault first: ${worst.words}`);
    worst.expect();
    expect(faults).toBeGreaterThan(cases.sets.length / 3);
  }, 300_000);

  it('ranks, places and tells explanations as the engine does', () => {
    const worst = new Worst();
    const seen = { joined: 0, stretches: 0, sizes: 0, unexplained: 0 };
    const grades = new Map<Verdict, number>();
    for (const set of cases.sets) {
      const of = [set.line, set.readings, set.opened];
      const ranking = rank(
        pack.tables[set.line]!,
        rules,
        set.readings,
        set.opened,
        ground,
        'm',
        set.insulation,
      );
      expect(ranking.explanations.map((e) => key(e.fault))).toEqual(
        set.explanations.map((e) => key(e.fault)),
      );
      ranking.explanations.forEach((ours, i) => {
        const theirs = set.explanations[i]!;
        worst.add(ours.ohm, theirs.ohm, [...of, ours.fault]);
        for (const m of ['low_m', 'likely_m', 'high_m', 'length_m'] as const)
          worst.add(ours.stretch?.[m] ?? null, theirs.stretch?.[m] ?? null, [...of, ours.fault, m]);
        const ends = (s: Stretch | null) => s && [s.run, s.from, s.to];
        expect(ends(ours.stretch)).toEqual(ends(theirs.stretch));
        for (const axis of [0, 1] as const) {
          worst.add(ours.spot?.at[axis] ?? null, theirs.at?.[axis] ?? null, [...of, ours.fault, 'at']);
          for (const [end, at] of [
            [0, ours.spot?.way[0]],
            [1, ours.spot?.way.at(-1)],
          ] as const)
            worst.add(at?.[axis] ?? null, theirs.between?.[end][axis] ?? null, [...of, ours.fault, 'way']);
        }
        // The size of a leak or a splice stands in another place of the sentence: it is compared above.
        if (ours.ohm === null) expect(ours.sentence).toBe(theirs.sentence);
        else seen.sizes++;
        if (ours.stretch) seen.stretches++;
      });
      expect(ranking.unexplained === null).toBe(set.unexplained === null);
      // The engine names the same numbers of each reading, in its own words.
      for (const { at, frequency_hz, read_ohm, would_ohm } of ranking.unexplained ?? []) {
        const what = `${frequency_hz > 0 ? `${frequency_hz} Hz` : 'DC'}${at === null ? '' : ` at ${at}`}`;
        const ohm = (value: number | null) => (value === null ? 'open' : `${value.toFixed(2)} ohm`);
        expect(set.unexplained).toContain(`${what} reads ${ohm(read_ohm)} and would read ${ohm(would_ohm)}`);
      }
      if (ranking.unexplained !== null) seen.unexplained++;
      // The same explanations cannot be told apart.
      const ours = new Map<number, number[]>();
      ranking.explanations.forEach((e, i) => ours.set(e.answer, [...(ours.get(e.answer) ?? []), i]));
      const groups = (all: number[][]) => all.map((g) => g.join()).sort();
      expect(groups([...ours.values()])).toEqual(groups(set.answers));
      if (set.answers.some((members) => members.length > 1)) seen.joined++;
      expect(lineVerdict(ranking, rules)).toBe(set.grade);
      grades.set(set.grade, (grades.get(set.grade) ?? 0) + 1);
    }
    console.log(`${cases.sets.length} rankings (${JSON.stringify(seen)}): ${worst.words}`);
    worst.expect();
    for (const many of Object.values(seen)) expect(many).toBeGreaterThan(COUNT / 20);
    for (const grade of ['good', 'doubtful', 'bad'] as const) expect(grades.get(grade)).toBeGreaterThan(20);
  }, 300_000);

  it('names what to measure next as the engine does', () => {
    const worst = new Worst();
    const seen = { sets: 0, rack: 0, joints: 0, none: 0, rack_only: 0 };
    for (const set of cases.sets) {
      const of = [set.line, set.readings, set.opened];
      const ours = testsOf(
        pack.tables[set.line]!,
        rules,
        set.readings,
        set.opened,
        () => true,
        set.insulation,
      );
      // Joints are compared where the crew's meter reads what the table has there; else only what is read at the rack.
      const whole = set.joints_hz === jointsHz(set.line);
      const compared = (all: Test[]) => (whole ? all : all.filter((t) => t.at === null));
      const [a, b] = [compared(ours), compared(set.next)];
      if (whole) expect(a.length, JSON.stringify(of)).toBe(b.length);
      b.slice(0, whole ? undefined : a.length).forEach((theirs, i) => {
        const mine = a[i]!;
        // Two tests that are worth the same may change places.
        const same = mine.at === theirs.at && mine.frequency_hz === theirs.frequency_hz;
        if (!same) expect(apart(mine.bits / mine.minutes, theirs.bits / theirs.minutes)).toBeLessThan(AGREED);
        else worst.add(mine.good_ohm, theirs.good_ohm, [...of, mine]);
        worst.add(mine.bits, theirs.bits, [...of, mine]);
        expect(mine.minutes).toBe(theirs.minutes);
        seen[mine.at === null ? 'rack' : 'joints']++;
      });
      seen[whole ? 'sets' : 'rack_only']++;
      if (!b.length) seen.none++;
    }
    console.log(`${seen.sets} sets to measure on (${JSON.stringify(seen)}): ${worst.words}`);
    worst.expect();
    expect(seen.sets).toBeGreaterThanOrEqual(COUNT);
    expect(Math.min(seen.rack, seen.joints)).toBeGreaterThan(COUNT / 4);
    expect(seen.none).toBeGreaterThan(0);
  }, 300_000);

  it('follows readings over the years as the engine does', () => {
    expect(cases.trends.length).toBeGreaterThanOrEqual(COUNT);
    const worst = new Worst();
    const seen = { none: 0, steady: 0, passed: 0, ahead: 0 };
    for (const t of cases.trends) {
      const ours = drift(t.readings, t.limit_ohm, t.rising_is_bad, t.deviation, rules.years);
      expect(ours === null, JSON.stringify(t)).toBe(t.drift === null);
      for (const part of ['per_year', 'now_ohm', 'years_left'] as const)
        worst.add(ours?.[part] ?? null, t.drift?.[part] ?? null, [t, part]);
      const left = t.drift?.years_left ?? null;
      seen[t.drift === null ? 'none' : left === null ? 'steady' : left === 0 ? 'passed' : 'ahead']++;
    }
    console.log(`${cases.trends.length} series of years (${JSON.stringify(seen)}): ${worst.words}`);
    worst.expect();
    for (const many of Object.values(seen)) expect(many).toBeGreaterThan(COUNT / 40);
  });

  it('judges every reading as the engine does', () => {
    const kinds = new Map<string, number>();
    let [readings, kept, staged, joints] = [0, 0, 0, 0];
    for (const { visits, judged } of cases.books) {
      for (const theirs of judged) {
        const visit = visits[theirs.visit]!;
        const own = readingsOf(visit, theirs.line).find(([id]) => id === theirs.reading);
        expect(own === undefined).toBe(theirs.kept);
        if (!own) {
          kept++;
          continue;
        }
        const r = own[1];
        const line = lines[theirs.line];
        const ours = judge(r, line, rules, builtTo(visits, visit, theirs.line, line))!;
        const { grade, says, stage, verdict } = theirs;
        expect(
          { grade: ours.grade, says: ours.says, stage: ours.stage ?? null, verdict: verdictWords(ours, r) },
          JSON.stringify([theirs, r]),
        ).toEqual({ grade, says, stage, verdict });
        readings++;
        if (stage !== null) staged++;
        if (r.at !== null) joints++;
        const kind = [
          r.leakage !== null ? 'earth' : r.dc !== null ? 'dc' : 'z',
          r.above ? 'above ' : [r.dc, r.impedance].includes('open') ? 'open ' : '',
          verdict,
        ];
        kinds.set(kind.join(' '), (kinds.get(kind.join(' ')) ?? 0) + 1);
      }
    }
    console.log(
      `${readings} readings judged, ${staged} of them of unfinished lines, ${joints} at joints; ${kept} left to the office; kinds: ${kinds.size}`,
    );
    expect(readings).toBeGreaterThanOrEqual(COUNT);
    expect(Math.min(kept, staged, joints)).toBeGreaterThan(COUNT / 20);
    const loops = ['good', 'doubtful: too low', 'doubtful: too high', 'bad: too low', 'bad: too high'];
    const every = [
      ...['dc', 'z'].flatMap((what) =>
        [...loops, 'bad: too low, as a short reads'].map((v) => `${what}  ${v}`),
      ),
      ...['dc', 'z'].flatMap((what) => ['bad: open', 'not judged'].map((v) => `${what} above  ${v}`)),
      ...['dc', 'z'].map((what) => `${what} open  bad: open`),
      ...['good', 'doubtful: it leaks', 'bad: it leaks'].map((v) => `earth  ${v}`),
      ...['good', 'not judged'].map((v) => `earth above  ${v}`),
    ];
    expect(every.filter((kind) => !kinds.has(kind))).toEqual([]);
  });

  it('makes the same series of the visits as the engine does', () => {
    const worst = new Worst();
    const seen = { series: 0, passed: 0, ahead: 0, falling: 0, alone: 0 };
    for (const { visits, series } of cases.books) {
      for (const line of Object.keys(lines)) {
        const ours = seriesOf(visits, line, lines[line], rules);
        const theirs = series[line] ?? [];
        const plain = ours.map(({ hz, readings }) => ({
          hz,
          readings: readings.map(({ words: _, ...r }) => r),
        }));
        expect(plain).toEqual(theirs.map(({ hz, readings }) => ({ hz, readings })));
        theirs.forEach((t, i) => {
          const of = [line, t];
          worst.add(ours[i]!.limit_ohm, t.limit_ohm, of);
          for (const part of ['per_year', 'now_ohm', 'years_left'] as const)
            worst.add(ours[i]!.drift?.[part] ?? null, t.drift?.[part] ?? null, [...of, part]);
          seen.series++;
          if (!t.drift) seen.alone++;
          else if (t.drift.years_left !== null) {
            seen[t.drift.years_left === 0 ? 'passed' : 'ahead']++;
            if (t.hz !== 'earth' && t.drift.per_year < 0) seen.falling++;
          }
        });
      }
    }
    console.log(`${seen.series} series over visits (${JSON.stringify(seen)}): ${worst.words}`);
    worst.expect();
    expect(seen.series).toBeGreaterThanOrEqual(COUNT);
    for (const many of Object.values(seen)) expect(many).toBeGreaterThan(COUNT / 40);
  });

  it('reads every number of the rules from what was taken along', () => {
    /** What the phone says of a case by these rules. */
    const ofSets = (r: Rules, n: number) => {
      const { line, readings, opened, insulation } = cases.sets[n]!;
      const ranking = rank(pack.tables[line]!, r, readings, opened, ground, 'm', insulation);
      return [
        ranking,
        lineVerdict(ranking, r),
        testsOf(pack.tables[line]!, r, readings, opened, () => true, insulation),
      ];
    };
    const ofBooks = (r: Rules, n: number) => {
      const { visits } = cases.books[n % cases.books.length]!;
      return Object.keys(lines).map((line) => seriesOf(visits, line, lines[line], r));
    };
    const ofTrends = (r: Rules, n: number) => {
      const { readings, limit_ohm, rising_is_bad, deviation } = cases.trends[n]!;
      return drift(readings, limit_ohm, rising_is_bad, deviation, r.years);
    };
    // What is taken down of a reading is typed in by the page itself: no case has it.
    // What an insulation tester is set to, and its caution, are read by people.
    const { taken: _, years, judge: whole, ...parts } = rules;
    const { insulation_test_v: _volts, insulation_caution: _words, ...judge } = whole;
    const others = { ...parts, judge };
    // So far that other frequencies are the same test, and that the meter counts beside the temperature; else by a half.
    const CHANGED: Record<string, number> = { same_hz: 400, meter: 0.1, meter_floor_ohm: 0.5 };
    const idle = (parts: object, said: ((r: Rules, n: number) => unknown)[]) =>
      Object.entries(parts).flatMap(([part, numbers]) =>
        Object.entries(numbers as Record<string, number>).flatMap(([name, value]) => {
          const other = {
            ...rules,
            [part]: { ...(numbers as object), [name]: CHANGED[name] ?? 1.5 * value },
          };
          for (let n = 0; n < COUNT; n++)
            for (const say of said)
              if (JSON.stringify(say(rules, n)) !== JSON.stringify(say(other, n))) return [];
          return [`${part}.${name}`];
        }),
      );
    expect(idle(others, [ofSets, ofBooks])).toEqual([]);
    expect(idle({ years }, [ofTrends, ofBooks])).toEqual([]);
  }, 300_000);
});
