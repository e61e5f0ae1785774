import { describe, expect, it } from 'vitest';
import type { Proposal } from '../api/shapes';
import { figuresOf, goneOn, signOfLife } from './proposing';

const sign = (best_cost: number | null, bound: number | null) => ({
  phase: 'Choosing loudspeakers',
  best_cost,
  bound,
});

describe('how far a proposal is', () => {
  it('says what is known and no more', () => {
    const said = (best: number | null, bound: number | null) => signOfLife(sign(best, bound), 'USD');
    expect(signOfLife(undefined, 'USD')).toBe('Starting.');
    expect(said(null, null)).toBe('Choosing loudspeakers.');
    expect(said(1996.2, null)).toBe('Choosing loudspeakers: best so far USD 1\u00a0996.');
    expect(said(1996.2, 1958.4)).toBe(
      'Choosing loudspeakers: best so far USD 1\u00a0996; its loudspeakers cost USD 1\u00a0958 at least, whatever is chosen.',
    );
    expect(said(null, 1958)).toBe('Choosing loudspeakers.');
    expect(signOfLife({ ...sign(null, null), phase: 'Waiting, place 2', place: 2 }, 'USD')).toBe(
      'Waiting, place 2.',
    );
  });

  it('keeps the best price until another comes', () => {
    const first = goneOn(undefined, sign(null, null));
    expect(first.best_cost).toBeNull();
    const found = goneOn(first, sign(1996, 1958));
    const quiet = goneOn(found, sign(null, null));
    expect([quiet.best_cost, quiet.bound]).toEqual([1996, null]);
    expect(goneOn(quiet, sign(2100, null)).best_cost).toBe(2100);
  });
});

it('figures of a design tell lengths in the units of the reader', () => {
  // 15.24 m are 50 ft, 1.2192 m 4 ft.
  const design = { figures: { cable_m: 15.24, digging_m: 1.2192 } } as unknown as Proposal;
  const words = { summary: '', figures: { Amplifiers: '1', Cable: '15 m', Digging: '1 m' } };
  expect(figuresOf(design, words, 'm')).toEqual(words.figures);
  expect(figuresOf(design, words, 'ft')).toEqual({ Amplifiers: '1', Cable: '50 ft', Digging: '4 ft' });
  expect(Object.keys(figuresOf(design, words, 'ft'))).toEqual(Object.keys(words.figures));
});
