import { describe, expect, it } from 'vitest';
import { EMPTY_BOOK, priceOf, prices, readBook, withPrice, written } from './price-book';

const BOOK =
  'Code,remark,price\nmargin,,18 %\ntask/joint,"made, and closed",4.20\n\nconduit/c-25,"25 mm ""thin""",1\n';

describe('a price book', () => {
  it('is read with its cells, whatever is in quotes', () => {
    const book = readBook(BOOK);
    expect(prices(book)).toEqual([
      { code: 'margin', price: '18 %' },
      { code: 'task/joint', price: '4.20' },
      { code: 'conduit/c-25', price: '1' },
    ]);
    expect(book.rows[1]![1]).toBe('made, and closed');
    expect(book.rows[2]![1]).toBe('25 mm "thin"');
    expect(readBook(written(book))).toEqual(book);
  });
  it('is read as spreadsheets with a decimal comma write it, and written so again', () => {
    const book = readBook('\uFEFFcode;price\r\nmargin;0,18\r\n');
    expect(priceOf(book, 'margin')).toBe('0,18');
    expect(written(withPrice(book, 'tax', '0,2'))).toBe('code;price\nmargin;0,18\ntax;0,2\n');
  });
  it('takes a price, another one, and none, and leaves the rest alone', () => {
    const book = withPrice(readBook(BOOK), 'task/joint', '5');
    expect(book.rows[1]).toEqual(['task/joint', 'made, and closed', '5']);
    expect(priceOf(withPrice(book, 'labour/hour', ' 62 '), 'labour/hour')).toBe('62');
    expect(prices(withPrice(book, 'margin', '')).map((p) => p.code)).toEqual(['task/joint', 'conduit/c-25']);
    expect(withPrice(book, 'nothing of the kind', '')).toEqual(book);
  });
  it('begins empty', () => {
    expect(readBook('')).toEqual(EMPTY_BOOK);
    expect(written(withPrice(EMPTY_BOOK, 'tax', '20 %'))).toBe('code,price\ntax,20 %\n');
  });
});
