import { describe, expect, it } from 'vitest';
import type { Table } from './evaluate';
import { rank } from './ranking';
import { RULES } from './rules.fixture';
import { comparedIn, unexplainedWords } from './unexplained';

/** Good at 10 ohm, cut at 20 ohm; a hundredth of spread, no offset. */
const table = {
  line: 'A',
  hypotheses: [
    {
      fault: { kind: 'healthy' },
      sentence: 'The line reads as it should.',
      weight: 3,
      first: 0,
      count: 1,
      seen: [],
    },
    { fault: { kind: 'open', run: 'A1' }, sentence: 'Cut.', weight: 1, first: 1, count: 1, seen: [] },
  ],
  parameters: [null, null],
  places: [
    {
      place: 'rack',
      frequencies_hz: [0, 1000],
      phases: false,
      predictions: [
        { mean: [Math.log(10), Math.log(100)], covariance: [1e-4, 0, 1e-4] },
        { mean: [Math.log(20), null], covariance: [1e-4, 0, 1e-4] },
      ],
      of_point: [0, 1],
    },
  ],
  meter_range_ohm: 20_000,
  offset_ohm: 0,
} satisfies Table;
const ground = { runs: [], racks: ['R1'], place: () => null };
const dc = (ohm: number | null) => ({ at: null, frequency_hz: 0, ohm });
const kilo = (ohm: number | null) => ({ at: null, frequency_hz: 1000, ohm });

describe('readings that no single fault explains', () => {
  it('are held against the nearest, by how much each differs, without a word of statistics', () => {
    // 5 ohm is half of the 10 ohm of a good line, and 100 ohm at 1 kHz as on one: nothing else is as near.
    const { unexplained } = rank(table, RULES, [dc(5), kilo(100)], [], ground);
    const said = unexplainedWords(unexplained!);
    expect(said).toMatch(
      'At the rack, DC, the meter shows 5.00 ohm, 50 % less where it would show 10.0 ohm.',
    );
    expect(said).toMatch('At the rack, 1 kHz, the meter shows 100 ohm, as it would.');
    expect(said).not.toMatch(/deviation|%.*likely/);
  });

  it('says what is a multiple, and what is open', () => {
    const at = { at: 'J1', frequency_hz: 0 };
    expect(unexplainedWords([{ ...at, read_ohm: 64, would_ohm: 20 }])).toMatch(
      'At J1, looking away from the rack, DC, the meter shows 64.0 ohm, 3.2 times as much where it would show 20.0 ohm.',
    );
    expect(unexplainedWords([{ ...at, read_ohm: 64, would_ohm: null }])).toMatch(
      'the meter shows 64.0 ohm where it would show an open line.',
    );
    expect(unexplainedWords([{ ...at, read_ohm: null, would_ohm: null }])).toMatch(
      'an open line, as it would.',
    );
  });

  it('are those that a fault explains, otherwise', () => {
    expect(rank(table, RULES, [dc(10)], [], ground).unexplained).toBeNull();
  });

  it('come from the office the same way, of the fault that it calls the nearest', () => {
    const predicted = (ohm: number) => [
      { place: 'rack', frequency_hz: 0, ohm, shown: 5, deviations: 69 },
      { place: 'rack', frequency_hz: 1000, ohm: 100, shown: 'open', deviations: null },
    ];
    const answer = {
      unexplained: { nearest: { kind: 'open', run: 'A1' }, deviations: 9, sentence: '' },
      explanations: [
        { fault: { kind: 'healthy' }, deviations: 70, predicted: predicted(10) },
        { fault: { kind: 'open', run: 'A1' }, deviations: 9, predicted: predicted(6) },
      ],
    } as unknown as Parameters<typeof comparedIn>[0];
    expect(comparedIn(answer)).toEqual([
      { at: null, frequency_hz: 0, read_ohm: 5, would_ohm: 6 },
      { at: null, frequency_hz: 1000, read_ohm: null, would_ohm: 100 },
    ]);
  });
});
