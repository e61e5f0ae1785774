import { describe, expect, it } from 'vitest';
import { EMPTY_READING, EMPTY_VISIT, type FullVisit } from './document';
import { RULES } from './rules.fixture';
import type { ExpectedLine } from './shapes';
import { seriesOf } from './years';

/** Insulation of line A in ohm, read on the first of May of years after another. */
function course(ohms: number[]) {
  const visits = Object.fromEntries(
    ohms.map((leakage, k) => {
      const readings = { r: { ...EMPTY_READING, line: 'A', leakage } };
      const visit: FullVisit = { ...EMPTY_VISIT, date: `${2026 + k}-05-01`, kind: 'maintenance', readings };
      return [`V${k}`, visit];
    }),
  );
  return seriesOf(visits, 'A', undefined, RULES)[0]!;
}

// Rates by hand from the readings that count, as in crates/study/src/years.rs: 38 of 40 is 5 % less, 40 of 40 is none.
describe('the course of a line', () => {
  it('begins anew after a fault that was mended', () => {
    expect(course([2e4, 40e6]).drift).toBeNull();
    expect(course([90e6, 2e4, 40e6, 38e6]).drift!.per_year).toBeCloseTo(-0.05, 3);
    expect(course([90e6, 2e4, 40e6, 38e6]).readings).toHaveLength(4);
  });
  it('leaves out what was doubtful between good readings, and counts what is not good now', () => {
    expect(course([40e6, 4e5, 40e6]).drift!.per_year).toBeCloseTo(0, 9);
    expect(course([40e6, 2e4]).drift!.per_year).toBeLessThan(-0.9);
  });
});

// 283 and then 422 ohm is a loudspeaker gone, no rise of a tenth a year.
it('makes no course of a single jump of a loop', () => {
  const at = { at: null, frequency_hz: 0, ohm: 300, low_ohm: 250, high_ohm: 350 };
  const far = { far_low_ohm: 240, far_high_ohm: 360, short_ohm: 1, sees: 'primary_copper' };
  const expected = { runs: [], readings: [{ ...at, ...far }], stages: [] } as unknown as ExpectedLine;
  const loop = (ohms: number[]) => {
    const visits = Object.fromEntries(
      ohms.map((dc, k) => {
        const readings = { r: { ...EMPTY_READING, line: 'A', dc } };
        const visit: FullVisit = { ...EMPTY_VISIT, date: `${2026 + k}-05-01`, kind: 'maintenance', readings };
        return [`V${k}`, visit];
      }),
    );
    return seriesOf(visits, 'A', expected, RULES)[0]!;
  };
  expect(loop([283, 422]).drift).toBeNull();
  expect(loop([280, 283, 422]).drift!.per_year).toBeCloseTo(3 / 280, 3);
  expect(loop([283, 380, 422]).drift!.per_year).toBeGreaterThan(0.1);
});
