import { describe, expect, it } from 'vitest';
import { exactly, roughly } from './money';

describe('amounts of money', () => {
  it('keep every cent of a quotation', () => {
    // ISO 4217, from memory: francs have hundredths, the yen nothing smaller, the Kuwaiti dinar 1000 fils.
    expect(exactly('CHF', 8979.98)).toBe('CHF 8\u00a0979.98');
    expect(exactly('EUR', 8979.3)).toBe('EUR 8\u00a0979.30');
    expect(exactly('JPY', 1234)).toBe('JPY 1\u00a0234');
    expect(exactly('KWD', 1.5)).toBe('KWD 1.500');
  });
  it('take any word for a currency', () => {
    expect(exactly('points', 3)).toBe('points 3.00');
  });
  it('are whole where they are estimates', () => {
    expect(roughly('EUR', 8979.5)).toBe('EUR 8\u00a0980');
  });
});
