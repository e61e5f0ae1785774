import { readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import type { Fault, Table } from './evaluate';
import { RULES } from './rules.fixture';
import { whyExpected, whyRanked } from './why';

/** Two things that can be: good at 10 ohm with a weight of 3, a fault at 20 ohm with 1; a tenth of spread, no offset. */
const table = {
  line: 'A',
  hypotheses: [
    { fault: { kind: 'healthy' }, sentence: 'good', weight: 3, first: 0, count: 1, seen: [] },
    { fault: { kind: 'open', run: 'A1' }, sentence: 'cut', weight: 1, first: 1, count: 1, seen: [] },
  ] as unknown as Table['hypotheses'],
  parameters: [null, null],
  places: [
    {
      place: 'rack',
      frequencies_hz: [0],
      phases: false,
      predictions: [
        { mean: [Math.log(10)], covariance: [0.01] },
        { mean: [Math.log(20)], covariance: [0.01] },
      ],
      of_point: [0, 1],
    },
  ],
  meter_range_ohm: 20_000,
  offset_ohm: 0,
} satisfies Table;
const of = (h: number): Fault => table.hypotheses[h]!.fault;

describe('why an explanation is as likely as it is', () => {
  it('is told with the numbers of Bayes by hand', () => {
    // Read at the geometric mean the two are as far off: the weights 3 and 1 decide, 75 % and 25 %.
    const reading = { at: null, frequency_hz: 0, ohm: Math.sqrt(200) };
    const good = whyRanked(table, RULES, of(0), 'good', [reading], []).steps.join(' ');
    const off = (Math.log(Math.sqrt(200) / 10) / 0.1).toFixed(1);
    expect(good).toMatch('it was 75 % likely');
    expect(good).toMatch(
      `would show 10.0 ohm with it; it showed 14.1 ohm, ${off} times the usual difference above`,
    );
    expect(good).toMatch('it is 75 % likely now');
    expect(whyRanked(table, RULES, of(1), 'cut', [reading], []).steps.join(' ')).toMatch(
      `would show 20.0 ohm with it; it showed 14.1 ohm, ${off} times the usual difference below`,
    );
    // At 20 ohm the fault is some 48 half squares nearer: all but certain.
    expect(whyRanked(table, RULES, of(1), 'cut', [{ ...reading, ohm: 20 }], []).steps.join(' ')).toMatch(
      /as predicted.*it is 100 % likely now/,
    );
  });

  it('says what the meter sees, each once', () => {
    const reading = { at: null, frequency_hz: 0, ohm: 10 };
    const all = ['voice_coils', 'loudspeakers', 'voice_coils', undefined] as const;
    const { steps } = whyRanked(table, RULES, of(0), 'good', [reading], [], [...all]);
    expect(steps.filter((s) => / current sees /.test(s))).toEqual([
      'A steady current sees the cable and the copper of the voice coils.',
      'An alternating current sees the loudspeakers themselves.',
    ]);
  });

  it('says an open line in words', () => {
    const said = whyRanked(table, RULES, of(0), 'good', [{ at: null, frequency_hz: 0, ohm: null }], []);
    expect(said.steps.join(' ')).toMatch('it showed an open line.');
  });
});

describe('why a good line reads what it reads', () => {
  it('is told with the cable and the spread', () => {
    const far = { far_low_ohm: 7.2, far_high_ohm: 13.9, short_ohm: 0.5 };
    const sees = 'primary_copper' as const;
    const e = { at: null, frequency_hz: 0, sees, ohm: 10, low_ohm: 8.2, high_ohm: 12.2, ...far };
    const line = {
      runs: [
        { id: 'A1', from: 'R1', to: 'L1', electrical_m: 20, loop_resistance_ohm: 0.4 },
        { id: 'A2', from: 'L1', to: 'L2', electrical_m: 10.5, loop_resistance_ohm: 0.2 },
      ],
      readings: [e],
      stages: [],
    };
    const said = whyExpected('A', e, line, table).steps.join(' ');
    expect(said).toMatch('30.5 m of cable, 0.60 ohm there and back');
    // 30.5 m are 100.07 ft.
    expect(whyExpected('A', e, line, table, 'ft').steps[0]).toMatch(
      '100 ft of cable, 0.60 ohm there and back',
    );
    // What the meter sees, in the engine's own words.
    const engine = readFileSync(`${import.meta.dirname}/../../../crates/faults/src/sees.rs`, 'utf8');
    const sentence = "the primary's copper of each transformer alone";
    expect(engine).toMatch(sentence);
    expect(said).toMatch(sentence);
    expect(said).toMatch('At the rack, DC, a meter shows 10.0 ohm.');
    expect(said).toMatch('usually differ from that by 10.0 %:');
    expect(said).toMatch('95 of 100 read 8.20 to 12.2 ohm.');
  });
});
