import { expect, it } from 'vitest';
import { polar } from '../lib/geometry';
import { FARTHEST_M } from '../lib/schema';
import { parseLength } from '../lib/units';
import { tooFar } from './far';

it('a side of 99 999 999 ft is refused before it is drawn, with both figures', () => {
  expect(FARTHEST_M).toBe(100_000);
  const side_m = parseLength('99999999', 'ft')!;
  expect(tooFar(polar([2, 2], side_m, 90), 'ft')).toBe(
    'That corner would lie 100000006 ft from the datum; at most 328084 ft are possible. Look at the unit that was typed.',
  );
  expect(tooFar([-200_000, 0], 'm')).toMatch(
    /^That corner would lie 200000 m from the datum; at most 100000 m/,
  );
});

it('a corner of any garden, and of a whole county, is taken', () => {
  expect(tooFar([24, 16], 'm')).toBeNull();
  expect(tooFar([-99_999, 100_000], 'ft')).toBeNull();
});
