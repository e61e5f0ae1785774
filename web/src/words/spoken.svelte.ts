/**
 * Texts in the language of whoever reads them. The English text is the key: `say('Reading of line {line}', { line })`; a language
 * has the same text with the same names in braces, in whatever order it wants them. What it lacks is said in English.
 */
import { languageOf, type LanguageName } from '../lib/languages';
import americanEnglish from './en-us.json';

export type Values = Record<string, string | number>;

type Words = Record<string, string>;

/** Languages with many words of their own are brought when they are first spoken. */
const BROUGHT: Partial<Record<LanguageName, () => Promise<{ default: Words }>>> = {
  es: () => import('./es.json'),
};

class Spoken {
  language = $state<LanguageName>('en');
  #known = $state.raw<Partial<Record<LanguageName, Words>>>({ 'en-us': americanEnglish });

  /** What the language that is spoken says instead of English; nothing until its words are here. */
  get words(): Words {
    return this.#known[this.language] ?? {};
  }

  /**
   * From now on everything is said in this language; English for a name there is none of. Resolves when its words are here: until
   * then, and where they cannot be had, the English text stands.
   */
  async speaks(name: string | null | undefined) {
    const language = languageOf(name);
    this.language = language;
    document.documentElement.lang = language;
    const bring = BROUGHT[language];
    if (!bring || this.#known[language]) return;
    const words = await bring().catch(() => null);
    if (words) this.#known = { ...this.#known, [language]: words.default };
  }
}

export const spoken = new Spoken();

/** The language of this browser, where nothing else says which. */
export const ownLanguage = (): LanguageName => (navigator.language.startsWith('es') ? 'es' : 'en');

/** A text with what stands in its braces. */
export const filled = (text: string, values: Values = {}): string =>
  text.replace(/\{(\w+)\}/g, (whole, name: string) => String(values[name] ?? whole));

/** A text in the language that is spoken. */
export const say = (english: string, values: Values = {}): string =>
  filled(Object.hasOwn(spoken.words, english) ? spoken.words[english]! : english, values);

/** "A", "A and B", "A, B and C". */
export const listing = (names: string[]): string =>
  names.length < 2
    ? names.join('')
    : say('{first} and {last}', { first: names.slice(0, -1).join(', '), last: names.at(-1)! });

/** What an entry is called: in English for the log that everybody reads, and as whoever makes it reads it. */
export interface Noted {
  note: string;
  said: string;
}
export const noted = (english: string, values: Values = {}): Noted => ({
  note: filled(english, values),
  said: say(english, values),
});
