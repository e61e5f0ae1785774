import { describe, expect, it } from 'vitest';
import { nearLeast } from './why-price';

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
