import { describe, expect, it } from 'vitest';
import type { JobDocument } from '../api/document';
import type { Catalogue, LinesView } from '../api/shapes';
import { applied } from './pointer';
import { freeAt, pairsOf, startAt, startsOf, takenAt, takePairs } from './starts';

const catalogue = {
  cables: {
    four: { description: 'Four conductors', conductors: 4, colours: ['red', 'black', 'white', 'green'] },
    bare: { description: 'No colours', conductors: 2 },
  },
} as unknown as Catalogue;
const run = { via: [], length: null, cable: null, sleeves: [], fixed: false, existing: false };
const doc = {
  racks: { R1: { name: 'Garage', position: [0, 0] }, R2: { position: [9, 9] } },
  stubs: {
    T1: {
      name: 'Hedge',
      position: [5, 5],
      cable: 'four',
      rack: 'R1',
      free_pairs: null,
      free_conductors: null,
    },
  },
  amplifiers: { P1: { model: 'amp', rack: 'R1' } },
  channels: { C1: { amplifier: 'P1', output: 1 }, C2: { amplifier: 'P1', output: 2 } },
  lines: {
    A: {
      channel: 'C1',
      start: null,
      cable: 'four',
      pair: 1,
      stub_pairs: [],
      runs: {
        A1: { ...run, from: 'R1', to: 'L1', via: [[1, 1]], length: 7 },
        A2: { ...run, from: 'L1', to: 'L2' },
      },
    },
    B: { channel: 'C2', start: 'T1', cable: 'four', pair: 1, stub_pairs: [2], runs: {} },
    C: { channel: 'C2', start: 'T1', cable: 'four', pair: 1, stub_pairs: [], runs: {} },
  },
} as unknown as JobDocument;
const typed = {
  lines: {
    A: {
      channel: 'C1',
      cable: 'four',
      runs: { A1: { from: 'R1', to: 'L1', via: [[1, 1]], length: '7 m' }, A2: { from: 'L1', to: 'L2' } },
    },
    B: { channel: 'C2', cable: 'four', start: 'T1', stub_pairs: [2] },
    C: { channel: 'C2', cable: 'four', start: 'T1' },
  },
};
const lines = {
  runs: [{ line: 'C', id: 'T1', existing: { stub: 'T1', pairs: [1] } }],
} as unknown as LinesView;

describe('pairs of a cable', () => {
  it('go by colour, pair by pair, positive first; by number where the catalogue has no colours', () => {
    expect(pairsOf(catalogue, 'four')[1]).toEqual({ number: 2, positive: 'white', negative: 'green' });
    expect(pairsOf(catalogue, 'bare')).toEqual([{ number: 1, positive: '1', negative: '2' }]);
  });
  it('are taken as said, else as given', () => {
    expect(takenAt(doc, lines, 'T1')).toEqual({ B: [2], C: [1] });
  });
  it('may be free only in part', () => {
    const with_ = (more: object) => ({ ...doc, stubs: { T1: { ...doc.stubs.T1!, ...more } } });
    expect(freeAt(doc, catalogue, 'T1')).toEqual({ pairs: [1, 2], most: 2 });
    expect(freeAt(with_({ free_pairs: [2] }), catalogue, 'T1')).toEqual({ pairs: [2], most: 1 });
    expect(freeAt(with_({ free_conductors: 3 }), catalogue, 'T1')).toEqual({ pairs: [1, 2], most: 1 });
  });
  it('are swapped with the line that has them', () => {
    const after = applied(typed, takePairs(typed, takenAt(doc, lines, 'T1'), 'B', [1]));
    expect([after.lines.B.stub_pairs, (after.lines.C as { stub_pairs?: number[] }).stub_pairs]).toEqual([
      [1],
      [2],
    ]);
  });
});

describe('starting elsewhere', () => {
  it('is offered by name, and says why not', () => {
    const offered = startsOf(doc, catalogue, lines, 'A');
    expect(offered.map((s) => [s.text, s.why_not])).toEqual([
      ['Rack R1, Garage', null],
      ['Rack R2', 'its amplifier stands in rack R1'],
      ['Stub-out T1, Hedge, from rack R1', 'no pair is left'],
    ]);
    expect(startsOf(doc, catalogue, lines, 'B')[2]!.why_not).toBeNull();
  });
  it('leads the cable straight from there, without what was measured along the old way', () => {
    const made = startAt(typed, doc, 'A', 'T1');
    if (typeof made === 'string') throw new Error(made);
    const { A } = applied(typed, made.patch).lines;
    expect(A).toEqual({
      channel: 'C1',
      cable: 'four',
      start: 'T1',
      runs: { A1: { from: 'T1', to: 'L1' }, A2: { from: 'L1', to: 'L2' } },
    });
    expect(made.told.join(' ')).toMatch(/Run A1 goes straight/);
  });
  it('goes back to the rack without a word of it in the job', () => {
    const made = startAt(typed, doc, 'B', 'R1');
    if (typeof made === 'string') throw new Error(made);
    expect(applied(typed, made.patch).lines.B).toEqual({ channel: 'C2', cable: 'four' });
  });
  it('is refused for cable that lies there already', () => {
    const old = structuredClone(doc);
    old.lines.A!.runs.A1!.existing = true;
    expect(startAt(typed, old, 'A', 'T1')).toMatch(/A1 is cable that lies there already/);
  });
});
