import { expect, it } from 'vitest';
import type { Table } from './evaluate';
import { nextOf } from './next';
import { RULES } from './rules.fixture';
import type { Expected } from './shapes';

/**
 * A good line, and one whose cable is shorted, which read alike at direct current and differ at 1 kHz by a half and at 10 kHz by
 * ten times: made up, so that the higher frequency tells more.
 */
const table: Table = {
  line: 'A',
  hypotheses: [
    { fault: { kind: 'healthy' }, sentence: 'In order.', weight: 1, first: 0, count: 1, seen: [] },
    {
      fault: { kind: 'short_along', run: 'A1' },
      sentence: 'Shorted.',
      weight: 1,
      first: 1,
      count: 1,
      seen: [],
    },
  ],
  parameters: [null, null],
  places: [
    {
      place: 'rack',
      frequencies_hz: [0, 1000, 10_000],
      phases: false,
      predictions: [
        [5, 60, 60],
        [5, 40, 6],
      ].map((ohms) => ({
        mean: ohms.map((ohm) => Math.log(ohm)),
        covariance: [1e-2, 0, 1e-2, 0, 0, 1e-2],
      })),
      of_point: [0, 1],
    },
  ],
  meter_range_ohm: 20_000,
  offset_ohm: 0,
};
const expected = (...hz: number[]) =>
  hz.map((frequency_hz) => ({ at: null, frequency_hz }) as unknown as Expected);
const asked = (...hz: number[]) =>
  nextOf(table, RULES, [{ at: null, frequency_hz: 0, ohm: 5 }], [], expected(...hz));

it('asks for no reading that the meter cannot take', () => {
  expect(asked(0, 1000, 10_000)?.frequency_hz).toBe(10_000);
  expect(asked(0, 1000)?.frequency_hz).toBe(1000);
  expect(asked(0)).toBeNull();
});
