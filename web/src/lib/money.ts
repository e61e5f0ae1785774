/** Amounts of money as people read them, written as on the papers: "EUR 8 979.50". */

/** Decimals of an amount in a currency, by its three-letter code (ISO 4217, as the browser knows it). */
function decimals(currency: string): number {
  try {
    const format = new Intl.NumberFormat('en', { style: 'currency', currency });
    return format.resolvedOptions().maximumFractionDigits ?? 2;
  } catch {
    return 2;
  }
}

/** Thousands stand apart by a space that no line is broken at. */
const apart = (figure: string) => figure.replaceAll(',', '\u00a0');

/** An amount to the smallest unit of its currency: what a quotation says. */
export function exactly(currency: string, amount: number): string {
  const places = decimals(currency);
  const digits = { minimumFractionDigits: places, maximumFractionDigits: places };
  return `${currency} ${apart(amount.toLocaleString('en', digits))}`;
}

/** An estimate, in whole units. */
export function roughly(currency: string, amount: number): string {
  return `${currency} ${apart(Math.round(amount).toLocaleString('en'))}`;
}
