import { describe, expect, it } from 'vitest';
import type { JobDocument } from '../api/document';
import { inSeriesWith, listed } from './series';

/** R to L1, in series with L2 and that with L3; L4 beside them at J. */
const runs = [
  { line: 'A', id: 'a1', from: 'R', to: 'J' },
  { line: 'A', id: 'a2', from: 'J', to: 'L1' },
  { line: 'A', id: 'a3', from: 'L1', to: 'L2' },
  { line: 'A', id: 'a4', from: 'L2', to: 'L3' },
  { line: 'A', id: 'a5', from: 'J', to: 'L4' },
];
const doc = {
  loudspeakers: { L1: { line: 'A' }, L2: { line: 'A' }, L3: { line: 'A' }, L4: { line: 'A' } },
  lines: { A: { runs: { a3: { in_series: true }, a4: { in_series: true } } } },
} as unknown as JobDocument;

describe('in series', () => {
  it('is who the current goes through before and behind', () => {
    const all = ['L1', 'L2', 'L3', 'L4', 'J'].map((tag) => listed(inSeriesWith(doc, runs, tag)));
    expect(all).toEqual(['L2 and L3', 'L1 and L3', 'L1 and L2', '', '']);
  });
});
