/**
 * A price book as the program reads it: CSV with the columns `code` and `price` (RFC 4180), and `unit` where prices of lengths are by
 * the foot; other columns are for people.
 */

export interface PriceBook {
  header: string[];
  rows: string[][];
  /** Between cells: a comma, or what spreadsheets of countries with a decimal comma write. */
  between: ',' | ';';
}

export const EMPTY_BOOK: PriceBook = { header: ['code', 'price'], rows: [], between: ',' };

/** Codes that are no price of a thing. */
export const RATES: { code: string; label: string; example: string }[] = [
  { code: 'margin', label: 'Margin on equipment and material', example: '18 %' },
  { code: 'tax', label: 'Tax on the whole', example: '20 %' },
  { code: 'labour/hour', label: 'Price of an hour', example: '62' },
  { code: 'currency', label: 'Currency of the prices', example: 'EUR' },
  { code: 'rounding', label: 'Total rounded to', example: '0.05' },
];

/** The cells of a text, row by row; rows without anything are left out. */
function cells(text: string, between: string): string[][] {
  const rows: string[][] = [];
  let row: string[] = [];
  let cell = '';
  let quoted = false;
  const end = () => {
    row.push(cell.trim());
    cell = '';
  };
  for (let i = 0; i < text.length; i++) {
    const c = text[i]!;
    if (quoted) {
      if (c !== '"') cell += c;
      else if (text[i + 1] === '"') cell += text[++i]!;
      else quoted = false;
    } else if (c === '"' && cell.trim() === '') {
      cell = '';
      quoted = true;
    } else if (c === between) end();
    else if (c === '\n' || c === '\r') {
      end();
      rows.push(row);
      row = [];
    } else cell += c;
  }
  end();
  rows.push(row);
  return rows.filter((r) => r.some((c) => c !== ''));
}

/** Reads a book that the program takes; of anything else as much as there is. */
export function readBook(text: string): PriceBook {
  const plain = text.replace(/^\uFEFF/, '');
  const first = plain.split('\n')[0] ?? '';
  const between = first.includes(';') && !first.includes(',') ? ';' : ',';
  const [header, ...rows] = cells(plain, between);
  return header ? { header, rows, between } : EMPTY_BOOK;
}

const column = (book: PriceBook, name: string) =>
  book.header.findIndex((h) => h.toLowerCase() === name.toLowerCase());

/** Every code with its price, in the order of the book. */
export const prices = (book: PriceBook): { code: string; price: string }[] =>
  book.rows.map((row) => ({
    code: row[column(book, 'code')] ?? '',
    price: row[column(book, 'price')] ?? '',
  }));

export const priceOf = (book: PriceBook, code: string): string | null =>
  prices(book).find((p) => p.code === code)?.price ?? null;

/** The book with another price of a code, or without it where the price is empty. */
export function withPrice(book: PriceBook, code: string, price: string): PriceBook {
  const [codeAt, priceAt] = [column(book, 'code'), column(book, 'price')];
  const at = book.rows.findIndex((row) => row[codeAt] === code);
  if (price.trim() === '') return { ...book, rows: book.rows.filter((_, i) => i !== at) };
  const row = at < 0 ? book.header.map(() => '') : [...book.rows[at]!];
  row[codeAt] = code;
  row[priceAt] = price.trim();
  return { ...book, rows: at < 0 ? [...book.rows, row] : book.rows.map((r, i) => (i === at ? row : r)) };
}

/** The text of a book. */
export function written({ header, rows, between }: PriceBook): string {
  const cell = (text: string) =>
    /["\n\r]/.test(text) || text.includes(between) ? `"${text.replaceAll('"', '""')}"` : text;
  return [header, ...rows].map((row) => row.map(cell).join(between)).join('\n') + '\n';
}
