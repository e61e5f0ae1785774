import { describe, expect, it } from 'vitest';
import {
  asTyped,
  atThirds,
  curveText,
  foundModels,
  idLike,
  readCurve,
  readList,
  withoutEmptyTransformer,
  withValues,
} from './own-model';
import { THIRDS_HZ } from './units';

const TOLD = {
  description: 'Ours',
  response: [
    [100, -2],
    [1000, 0],
  ],
  mass: null,
  transformer: { taps_70v: [5, 10], taps_100v: [], magnetising: null },
  size: null,
};

describe("a model of a job's own", () => {
  it('is sent as a catalogue file has it: nothing that is not stated, curves as tables', () => {
    expect(asTyped(TOLD)).toEqual({
      description: 'Ours',
      response: { '100 Hz': -2, '1000 Hz': 0 },
      transformer: { taps_70v: [5, 10], taps_100v: [] },
    });
  });
  it('takes what is typed anew and leaves the rest', () => {
    const entry = withValues(asTyped(TOLD), {
      '/description': 'Theirs',
      '/directivity/kind': 'omnidirectional',
      '/response': undefined,
    });
    expect(entry).toEqual({
      description: 'Theirs',
      transformer: { taps_70v: [5, 10], taps_100v: [] },
      directivity: { kind: 'omnidirectional' },
    });
    const bare = withValues(entry, { '/transformer/taps_70v': [] });
    expect(withoutEmptyTransformer(bare)).toEqual({
      description: 'Theirs',
      directivity: { kind: 'omnidirectional' },
      low_impedance: true,
    });
    expect(withoutEmptyTransformer(entry)).toBe(entry);
  });
  it('has curves that read as they are written', () => {
    const curve: [number, number][] = [
      [31.5, -33],
      [1000, 0.5],
      [12500, -1],
    ];
    expect(curveText(curve)).toBe('31.5 Hz: -33\n1 kHz: 0.5\n12.5 kHz: -1');
    expect(readCurve(curveText(curve))).toEqual({ '31.5 Hz': -33, '1000 Hz': 0.5, '12500 Hz': -1 });
    expect(readCurve('63 -11 dB; 2 kHz = +1,5')).toEqual({ '63 Hz': -11, '2000 Hz': 1.5 });
    expect(() => readCurve('63 Hz')).toThrow('write a frequency and a figure');
  });
  it('has lists of figures with or without units', () => {
    expect(readList('5, 10 W; 20')).toEqual([5, '10 W', 20]);
    expect(readList(' ')).toEqual([]);
  });
  it('is called like what it was made of', () => {
    expect(idLike('stake-165-wide', ['stake-165-wide', 'stake-165-wide-2'])).toBe('stake-165-wide-3');
  });
});

describe('a curve at third octaves', () => {
  it('lies on straight lines over log frequency, and is nothing beyond its ends', () => {
    const at = atThirds([
      [100, 0],
      [10000, 20],
    ]);
    const of = (hz: number) => at[THIRDS_HZ.indexOf(hz as (typeof THIRDS_HZ)[number])];
    expect([of(100), of(10000)]).toEqual([0, 20]);
    // A decade is half of two.
    expect(of(1000)).toBeCloseTo(10, 9);
    expect([of(80), of(12500)]).toEqual([null, null]);
    expect(atThirds(null).every((v) => v === null)).toBe(true);
  });
});

it('finds models by words and kind', () => {
  const models = {
    a: { description: 'Two-way, on a stake', kind: 'two-way' },
    b: { description: 'Bass, in the ground', kind: 'subwoofer' },
  };
  const ids = (typed: string, kind?: string) => foundModels(models, typed, kind).map(([id]) => id);
  expect(ids('STAKE')).toEqual(['a']);
  expect(ids('', 'subwoofer')).toEqual(['b']);
  expect(ids('bass stake')).toEqual([]);
});
