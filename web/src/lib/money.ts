/** Amounts of money as people read them, written as on the papers: "EUR 8 979.50". */

import { say } from '../words/spoken.svelte';

/** Decimals of an amount in a currency, by its three-letter code (ISO 4217, as the browser knows it). */
function decimals(currency: string): number {
  try {
    const format = new Intl.NumberFormat('en', { style: 'currency', currency });
    return format.resolvedOptions().maximumFractionDigits ?? 2;
  } catch {
    return 2;
  }
}

/** What a currency is written with besides its code: "$", "US$". */
function signs(currency: string): string[] {
  return (['symbol', 'narrowSymbol'] as const).flatMap((currencyDisplay) => {
    try {
      const format = new Intl.NumberFormat('en', { style: 'currency', currency, currencyDisplay });
      return format.formatToParts(0).flatMap((p) => (p.type === 'currency' ? [p.value] : []));
    } catch {
      return [];
    }
  });
}

/** What is left of an amount without the code or the sign of its currency, at either end; `null` where it is of another. */
function withoutCurrency(text: string, currency: string): string | null {
  const plain = text.trim();
  // "US$" beside "$": the country is what its code begins with (ISO 4217).
  const signed = signs(currency).flatMap((sign) => [sign, `${currency.slice(0, 2)}${sign}`]);
  const marks = [currency, ...signed].map((m) => m.toLowerCase()).filter(Boolean);
  const low = plain.toLowerCase();
  // The longest first: "US$" before "$".
  for (const mark of marks.sort((a, b) => b.length - a.length)) {
    if (low.startsWith(mark)) return plain.slice(mark.length).trim();
    if (low.endsWith(mark)) return plain.slice(0, -mark.length).trim();
  }
  return /^[\d.,]/.test(plain) && /[\d.,]$/.test(plain) ? plain : null;
}

/**
 * Reads an amount as people write it, in this currency: "12500", "$12,500", "12 500 USD", "1.234,50". Tells it as the job has it, or
 * what there is against it.
 */
export function readMoney(text: string, currency: string): { amount: number } | { wrong: string } {
  const figure = withoutCurrency(text, currency)?.replace(/[\s\u00a0\u202f']/g, '');
  if (figure === undefined)
    return {
      wrong: say('"{text}" is no amount in {currency}; write digits, such as {example}', {
        text: text.trim(),
        currency,
        example: exactly(currency, 12500),
      }),
    };
  // What stands last before at most two digits parts off the hundredths; three digits behind a comma are thousands.
  const parted = /^(\d{1,3}(?:,\d{3})+|\d+)(?:\.(\d+))?$/.exec(figure);
  const comma = /^(\d{1,3}(?:\.\d{3})+|\d+),(\d{1,2})$/.exec(figure);
  const many = /^(\d{1,3}(?:\.\d{3}){2,})$/.exec(figure);
  const found = parted ?? comma ?? many;
  if (!found)
    return {
      wrong: say('"{text}" cannot be read as an amount of money; write it such as {example}', {
        text: text.trim(),
        example: exactly(currency, 12500),
      }),
    };
  const whole = found[1]!.replace(/[.,]/g, '');
  return { amount: Number(found[2] ? `${whole}.${found[2]}` : whole) };
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
