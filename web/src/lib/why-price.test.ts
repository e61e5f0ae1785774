import { describe, expect, it } from 'vitest';
import type { Proposal } from '../api/shapes';
import { nearLeast, whyPrice } from './why-price';

// The quotation's own figures: 6.875 % of 3 620.94 is 248.94, and the coin of ten adds 0.12.
it('tells tax and rounding apart, as the quotation has them', () => {
  const figures = { price: 3870, net: 3620.94, tax: 248.94, rounding: 0.12 };
  const looked = { bound: null, candidates: 1, places: 1, currency: 'USD' };
  const design = { figures, choice_cost: 3839 } as unknown as Proposal;
  const told = whyPrice(design, {}, looked as never).steps.join(' ');
  expect(told).toContain('USD 248.94 of tax');
  expect(told).toContain('comes to USD 0.12');
  expect(told).not.toContain('249.06');
});

describe('how near a design is to the least possible', () => {
  // By hand: 1340 is 34 % above 1000; a part of a per cent is told as a whole one, since it is said "at most".
  it('is said in per cent above what is proven', () => {
    expect(nearLeast({ choice_cost: 1340 }, 1000)).toMatch('at most 34 % more than the least possible');
    expect(nearLeast({ choice_cost: 1340.5 }, 1000)).toMatch('at most 35 % more');
    expect(nearLeast({ choice_cost: 1000 }, 1000)).toMatch('the least possible: that is proven');
  });
  it('is not said where nothing is proven', () => {
    expect(nearLeast({ choice_cost: 1340 }, null)).toBeNull();
    expect(nearLeast({ choice_cost: 1340 }, 0)).toBeNull();
  });
});
