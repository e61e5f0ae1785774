import { describe, expect, it } from 'vitest';
import { tells } from './tells';

describe('how much a test tells', () => {
  it('is said against what is open: four alike are two bits, by hand', () => {
    const four = [0.25, 0.25, 0.25, 0.25];
    expect(tells(1.6, four)).toBe('most likely settles it');
    expect(tells(1, four)).toBe('narrows it a lot');
    expect(tells(0.5, four)).toBe('narrows it a little');
  });

  it('takes chances that do not add up to one, and those that are none', () => {
    // Two alike are one bit, whatever was left out.
    expect(tells(0.8, [0.3, 0.3, 0])).toBe('most likely settles it');
    expect(tells(0.5, [0.3, 0.3, 0])).toBe('narrows it a lot');
    expect(tells(0.2, [0.3, 0.3, 0])).toBe('narrows it a little');
  });
});
