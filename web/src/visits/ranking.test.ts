import { expect, it } from 'vitest';
import type { Table } from './evaluate';
import { answersOf, rank } from './ranking';
import { RULES } from './rules.fixture';

/** A short at a quarter, half or three quarters of a run of 100 ft (30.48 m), which read 5, 10 and 15 ohm; a cut, which reads 40 ohm. */
const table: Table = {
  line: 'A',
  hypotheses: [
    { fault: { kind: 'short_along', run: 'A1' }, sentence: '', weight: 1, first: 0, count: 3, seen: [] },
    {
      fault: { kind: 'open', run: 'A1' },
      sentence: 'Run A1 (R1 to L1, 30.5 m) is open.',
      measures: [{ from: 18, to: 24, kind: 'length', value: 30.48 }],
      weight: 1,
      first: 3,
      count: 1,
      seen: [],
    },
  ],
  parameters: [0.25, 0.5, 0.75, null],
  places: [
    {
      place: 'rack',
      frequencies_hz: [0],
      phases: false,
      predictions: [5, 10, 15, 40].map((ohm) => ({ mean: [Math.log(ohm)], covariance: [1e-4] })),
      of_point: [0, 1, 2, 3],
    },
  ],
  meter_range_ohm: 20_000,
  offset_ohm: 0,
};
const way: [number, number][] = [
  [0, 0],
  [30.48, 0],
];
const run = { line: 'A', id: 'A1', from: 'R1', to: 'L1', electrical_m: 30.48, way };
const ground = { runs: [run] as never, racks: ['R1'], place: () => null };
const said = (ohm: number, unit?: 'm' | 'ft') =>
  rank(table, RULES, [{ at: null, frequency_hz: 0, ohm }], [], ground, unit).explanations[0]!.sentence;

it('explanations tell lengths in the units of whoever holds the phone', () => {
  // At 10 ohm all but the middle cell is out of the question: 50 ft, and the cell's ends a sixth of the run to each side.
  const metres = said(10);
  expect(metres).toMatch(
    /^Run A1 \(R1 to L1, 30\.5 m of cable as laid\) is shorted, as by a staple, 15\.2 m from R1 and 15\.2 m from L1/,
  );
  expect(said(10, 'm')).toBe(metres);
  const feet = said(10, 'ft');
  expect(feet).toMatch(
    /^Run A1 \(R1 to L1, 100 ft of cable as laid\) is shorted, as by a staple, 50 ft from R1 and 50 ft from L1/,
  );
  expect(feet).toMatch(/95 times in 100 between \d+ ft and \d+ ft from R1\)\.$/);
  expect(said(40)).toBe('Run A1 (R1 to L1, 30.5 m) is open.');
  expect(said(40, 'ft')).toBe('Run A1 (R1 to L1, 100 ft) is open.');
});

// What the engine calls one answer is one here: its share is the sum of its members', and the likeliest answer comes first.
it('takes together what the readings cannot tell apart', () => {
  const ranked = [
    { answer: 0, probability: 0.4 },
    { answer: 1, probability: 0.25 },
    { answer: 1, probability: 0.2 },
    { answer: 0, probability: 0.01 },
    { answer: 4, probability: 0.14 },
  ];
  const answers = answersOf(ranked);
  expect(answers.map((a) => a.members)).toEqual([[1, 2], [0, 3], [4]]);
  expect(answers.map((a) => Number(a.probability.toFixed(9)))).toEqual([0.45, 0.41, 0.14]);
});
