import { expect, it } from 'vitest';
import { readDay } from './days';

it.each([
  ['2031-06-14', false, '2031-06-14'],
  ['2031-6-4', true, '2031-06-04'],
  ['6/14/2031', true, '2031-06-14'],
  ['6/7/2031', true, '2031-06-07'],
  // There is no fourteenth month: it can be meant in one way alone.
  ['14/6/2031', true, '2031-06-14'],
  ['6/14/2031', false, '2031-06-14'],
  ['14.6.2031', false, '2031-06-14'],
  ['7. 6. 2031', true, '2031-06-07'],
  ['5/5/2031', false, '2031-05-05'],
  ['2/29/2032', true, '2032-02-29'],
])('%s (month first: %s) is %s', (text, monthFirst, day) =>
  expect(readDay(text, monthFirst)).toEqual({ day }),
);

it('says so where two days may be meant, and where none is', () => {
  expect(readDay('6/7/2031', false)).toEqual({
    wrong: '"6/7/2031" may be 2031-07-06 or 2031-06-07: write which',
  });
  for (const text of ['soon', '2031-02-29', '13/13/2031', '2031-13-01', '6/14/31', '6.14/2031'])
    expect(readDay(text, true), text).toHaveProperty('wrong');
});
