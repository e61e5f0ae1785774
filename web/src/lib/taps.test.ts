import { expect, it } from 'vitest';
import type { Catalogue } from '../api/shapes';
import { tapOptions, tapsOf } from './taps';

const catalogue = {
  loudspeakers: {
    stake: { transformer: { taps_70v: ['5 W', '10 W'], taps_100v: ['10 W', '20 W'] } },
    plain: { transformer: null },
  },
} as unknown as Catalogue;

it('are those of the model at the voltage of its line', () => {
  expect(tapsOf(catalogue, 'stake', '70.7 V')).toEqual(['5 W', '10 W']);
  expect(tapsOf(catalogue, 'stake', '100 V')).toEqual(['10 W', '20 W']);
  expect(tapsOf(catalogue, 'stake', '25 V')).toEqual([]);
  expect(tapsOf(catalogue, 'stake', 'low impedance')).toEqual([]);
  expect(tapsOf(catalogue, 'plain', '100 V')).toEqual([]);
  expect(tapsOf(null, 'stake', '100 V')).toEqual([]);
});

it('are chosen from, with what stands among them as it was typed', () => {
  const each = (value: string, text = value) => ({ value, text });
  expect(tapOptions(['5 W', '10 W'], undefined)).toEqual([each('5 W'), each('10 W')]);
  expect(tapOptions(['5 W', '10 W'], 10)).toEqual([each('5 W'), each('10', '10 W')]);
  expect(tapOptions(['5 W', '10 W'], '30 W')).toEqual([
    each('5 W'),
    each('10 W'),
    each('30 W', '30 W: not a tap of this model here'),
  ]);
  // Where its model has none for how it is fed there is nothing to choose, and nothing to type.
  expect(tapOptions([], undefined)).toEqual([]);
  expect(tapOptions([], 10)).toEqual([each('10', '10 W: not a tap of this model here')]);
});
