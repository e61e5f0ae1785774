import { describe, expect, it } from 'vitest';
import { exactly, readMoney, roughly } from './money';

describe('an amount as people write it', () => {
  it.each([
    '$12,500',
    '12,500',
    '12,500 USD',
    'USD 12 500',
    'usd12500',
    '12500',
    'US$ 12,500.00',
    '12.500,00',
  ])('%s', (text) => expect(readMoney(text, 'USD')).toEqual({ amount: 12500 }));
  it('keeps the hundredths, behind a point or a comma', () => {
    expect(readMoney('1.234,50 \u20ac', 'EUR')).toEqual({ amount: 1234.5 });
    expect(readMoney('12,50', 'EUR')).toEqual({ amount: 12.5 });
    expect(readMoney('EUR 8\u00a0979.98', 'EUR')).toEqual({ amount: 8979.98 });
    expect(readMoney(exactly('USD', 3870), 'USD')).toEqual({ amount: 3870 });
  });
  it('says what is wrong with what is none', () => {
    expect(readMoney('12,500 EUR', 'USD')).toEqual({
      wrong: '"12,500 EUR" is no amount in USD; write digits, such as USD 12\u00a0500.00',
    });
    for (const text of ['lots', '-5', '12,5000', '1,2,3', '', '$'])
      expect(readMoney(text, 'USD'), text).toHaveProperty('wrong');
  });
});

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
