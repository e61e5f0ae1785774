import { describe, expect, it } from 'vitest';
import { difference, differs, today } from './clock';
import { EMPTY_READING } from './document';
import { drift } from './drift';
import { ownId, tickId } from './ids';
import { verdictOf } from './verdict';
import { interval, ohms, said } from './words';

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
      )!.years_left,
    ).toBeNull();
    expect(drift([{ year: 0, ohm: 1 }], 4, true, 0.03)).toBeNull();
    const noisy = [0, 1].map((year) => ({ year, ohm: 10 + 0.2 * year }));
    expect(drift(noisy, 10.8, true, 0.03)!.years_left).toBeNull();
  });
});

describe('the verdict on one reading', () => {
  const readings = [{ at: null, frequency_hz: 0, ohm: 14, low_ohm: 13, high_ohm: 15.08 }];
  const expected = { readings, stages: [], leakage_mohm: 1 };
  const of = (more: object) => verdictOf({ ...EMPTY_READING, line: 'A', ...more }, expected);
  it('follows the interval of sound lines', () => {
    expect(of({ dc: 14.3 })).toBe('fine');
    expect(of({ dc: 15.5 })).toBe('doubtful');
    expect(of({ dc: 8 })).toBe('wrong');
    expect(of({ dc: 20_000, above: true })).toBe('wrong');
    expect(of({ leakage: 2e8, above: true })).toBe('fine');
    expect(of({ leakage: 2e4 })).toBe('wrong');
    expect(of({ impedance: 60, frequency: 330 })).toBeNull();
  });
});

describe('figures in words', () => {
  it('carry their units', () => {
    expect(ohms(14.28)).toBe('14.3 ohm');
    expect(ohms(2.1e5)).toBe('210 kohm');
    expect(ohms(5e6)).toBe('5.00 Mohm');
    expect(interval({ at: null, frequency_hz: 0, ohm: 14, low_ohm: 13.2, high_ohm: 15.1 })).toBe(
      '13.2 to 15.1 ohm',
    );
    expect(said({ ...EMPTY_READING, impedance: 20_000, frequency: 1000, above: true })).toBe(
      'above 20.0 kohm, 1 kHz',
    );
  });
});
