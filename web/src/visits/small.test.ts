import { describe, expect, it } from 'vitest';
import { difference, differs, today } from './clock';
import { EMPTY_DONE, EMPTY_READING, readingsOf, type FullVisit, type MeterReading } from './document';
import { drift } from './drift';
import { ownId, tickId } from './ids';
import { FORMAT, isEarlier, rulesOf } from './rules';
import { RULES } from './rules.fixture';
import type { Pack } from './shapes';
import { builtTo, judge, soFar, verdictOf, verdictWords } from './verdict';
import { ohms } from '../lib/units';
import { interval, said } from './words';

describe('ids', () => {
  it('fit on a tag and differ', () => {
    const all = new Set(Array.from({ length: 5000 }, () => ownId('A')));
    expect(all.size).toBe(5000);
    for (const id of [...all, tickId('a very long name of a line', 'and of a run', 'laid')]) {
      expect(id).toMatch(/^[\p{L}\p{N}][\p{L}\p{N}._-]{0,31}$/u);
    }
    expect(tickId('L1', 'tap')).toBe('L1-tap');
  });
});

describe('the clock', () => {
  it('is off only when a person would notice', () => {
    expect(difference('2026-05-04T10:00:00Z', Date.parse('2026-05-04T10:01:00Z'))).toBe(0);
    const day = difference('2026-05-05T10:00:00Z', Date.parse('2026-05-04T10:00:00Z'));
    expect(differs(day)).toBe('1 day behind');
    expect(differs(-30 * 60_000)).toBe('30 minutes ahead');
    expect(today(0, new Date(2026, 0, 9, 23, 59).getTime())).toBe('2026-01-09');
  });
});

describe('drift', () => {
  // Closed form, as in crates/faults/src/drift.rs: 2 * 1.1^3 = 2.662 ohm; ln(4 / 2.662) / ln 1.1 = 4.27 years.
  it('sees a splice that rises ten per cent a year coming', () => {
    const d = drift(
      [0, 1, 2, 3].map((year) => ({ year, ohm: 2 * 1.1 ** year })),
      4,
      true,
      0.03,
      RULES.years,
    )!;
    expect(d.per_year).toBeCloseTo(0.1, 9);
    expect(d.years_left).toBeCloseTo(4.27, 2);
  });
  it('warns of nothing when readings are steady or alone', () => {
    expect(
      drift(
        [0, 3].map((year) => ({ year, ohm: 5e6 })),
        1e6,
        false,
        0.2,
        RULES.years,
      )!.years_left,
    ).toBeNull();
    expect(drift([{ year: 0, ohm: 1 }], 4, true, 0.03, RULES.years)).toBeNull();
    const noisy = [0, 1].map((year) => ({ year, ohm: 10 + 0.2 * year }));
    expect(drift(noisy, 10.8, true, 0.03, RULES.years)!.years_left).toBeNull();
  });
});

describe('the verdict on one reading', () => {
  const e = { at: null, frequency_hz: 0, ohm: 14, low_ohm: 13, high_ohm: 15.08 };
  const readings = [{ ...e, far_low_ohm: 12.4, far_high_ohm: 15.8, short_ohm: 1.2 }];
  const expected = { runs: [], readings, stages: [] };
  const of = (more: object) => verdictOf({ ...EMPTY_READING, line: 'A', ...more }, expected, RULES);
  const says = (more: object) => {
    const r = { ...EMPTY_READING, line: 'A', ...more };
    return verdictWords(judge(r, expected, RULES)!, r);
  };
  it('follows the limits that were taken along, on both sides', () => {
    expect(of({ dc: 14.3 })).toBe('good');
    expect(of({ dc: 15.5 })).toBe('doubtful');
    expect(of({ dc: 12.5 })).toBe('doubtful');
    expect(says({ dc: 8 })).toBe('bad: too low');
    expect(says({ dc: 16 })).toBe('bad: too high');
    expect(says({ dc: 0.4 })).toBe('bad: too low, as a short reads');
    expect(says({ dc: 20_000, above: true })).toBe('bad: open');
    expect(says({ dc: 'open' })).toBe('bad: open');
    expect(says({ impedance: 'open', frequency: 0 })).toBe('bad: open');
    // "More than 10 ohm" may be anything.
    expect(of({ dc: 10, above: true })).toBeNull();
    expect(of({ leakage: 2e8, above: true })).toBe('good');
    expect(says({ leakage: 2e4 })).toBe('bad: it leaks');
    expect(of({ leakage: 4e5 })).toBe('doubtful');
    expect(of({ impedance: 60, frequency: 315 })).toBeNull();
    // To earth there is one limit for all lines, those that nothing is worked out for as well.
    expect(verdictOf({ ...EMPTY_READING, line: 'Z', leakage: 4e5 }, undefined, RULES)).toBe('doubtful');
    expect(verdictOf({ ...EMPTY_READING, line: 'Z', dc: 14 }, undefined, RULES)).toBeNull();
  });
});

describe('a line that is being built', () => {
  const at = (ohm: number) => ({
    at: null,
    frequency_hz: 0,
    ohm,
    low_ohm: 0.95 * ohm,
    high_ohm: 1.05 * ohm,
    far_low_ohm: 0.9 * ohm,
    far_high_ohm: 1.1 * ohm,
    short_ohm: 0.5,
  });
  const run = (id: string, from: string, to: string) => ({
    id,
    from,
    to,
    electrical_m: 10,
    loop_resistance_ohm: 0.2,
  });
  const expected = {
    runs: [run('a1', 'R1', 'L1'), run('a2', 'L1', 'L2')],
    readings: [at(10)],
    stages: [
      { joint: 'L1', readings: [at(20)] },
      { joint: 'L2', readings: [at(10)] },
    ],
  };
  const visit = (run?: string): FullVisit => ({
    date: '2026-04-01',
    kind: 'building',
    ground_temperature: null,
    readings: {},
    photos: {},
    notes: '',
    done: run ? { x: { ...EMPTY_DONE, work: 'laid' as const, line: 'A', run } } : {},
  });
  it('is held against how far it was built', () => {
    const reads = (v: FullVisit, dc: number) =>
      verdictOf({ ...EMPTY_READING, line: 'A', dc }, expected, RULES, builtTo({ v }, v, 'A', expected));
    // Cut behind L1 it would read the same: nobody ticked off that it ends there.
    expect(reads(visit(), 20)).toBe('doubtful');
    expect(reads(visit(), 10)).toBe('good');
    expect(reads(visit(), 15)).toBe('bad');
    expect(reads(visit('a1'), 20)).toBe('good');
    expect(reads(visit('a1'), 10)).toBe('bad');
    expect(reads({ ...visit(), kind: 'handover' }, 20)).toBe('bad');
  });
  it('says so in the same words as the office, and before what would explain it', () => {
    const told = (v: FullVisit, dc: number) => {
      const r = { ...EMPTY_READING, line: 'A', dc };
      const of = (r: MeterReading) => judge(r, expected, RULES, builtTo({ v }, v, 'A', expected));
      return [verdictWords(of(r)!, r), soFar('A', [r], of)?.sentence.split('. ')[0]];
    };
    expect(told(visit(), 20)).toEqual([
      'doubtful: right only as far as L1',
      'Line A reads as one built as far as L1 and no farther, and nothing ticked off says that it ends there',
    ]);
    expect(told(visit('a1'), 20)).toEqual([
      'good as far as L1',
      'Line A reads as one built as far as L1 and no farther',
    ]);
    expect(told(visit('a1'), 10)).toEqual(['bad as far as L1: too low', undefined]);
    expect(told(visit(), 10)).toEqual(['good', undefined]);
  });
  it('keeps readings of a line that was replaced out of the new one', () => {
    const lines = { A: { line: 'A', readings: ['r1'], done: [], photos: [] } };
    const of = (id: string) => ({ [id]: { ...EMPTY_READING, line: 'A', dc: 20 } });
    const v = { ...visit(), readings: { ...of('r1'), ...of('r2') }, lines };
    expect(readingsOf(v, 'A').map(([id]) => id)).toEqual(['r2']);
  });
});

describe('what was taken along', () => {
  it('gives its rules only in the form this app understands', () => {
    const pack = (more: object) => more as Pack;
    expect(rulesOf(pack({ format: FORMAT, rules: RULES }))).toBe(RULES);
    for (const other of [{}, { format: FORMAT }, { format: FORMAT + 1, rules: RULES }])
      expect(rulesOf(pack(other))).toBeNull();
    expect([{}, { format: FORMAT }, { format: FORMAT + 1 }].map((p) => isEarlier(pack(p)))).toEqual([
      true,
      false,
      false,
    ]);
  });
});

describe('figures in words', () => {
  it('carry their units', () => {
    expect(ohms(14.28)).toBe('14.3 ohm');
    expect(ohms(2.1e5)).toBe('210 kohm');
    expect(ohms(5e6)).toBe('5.00 Mohm');
    const limits = { far_low_ohm: 13, far_high_ohm: 15.5, short_ohm: null };
    expect(interval({ at: null, frequency_hz: 0, ohm: 14, low_ohm: 13.2, high_ohm: 15.1, ...limits })).toBe(
      '13.2 to 15.1 ohm',
    );
    expect(said({ ...EMPTY_READING, dc: 'open' })).toBe('open line, DC');
    expect(said({ ...EMPTY_READING, impedance: 20_000, frequency: 1000, above: true })).toBe(
      'above 20.0 kohm, 1 kHz',
    );
  });
});
