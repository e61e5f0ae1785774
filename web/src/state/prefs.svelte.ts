/**
 * What this browser remembers of the person at it: name, theme, language, unit of length; and the language and the unit of what it
 * shows.
 */
import type { Ground } from '../lib/palette';
import { LANGUAGES, type LanguageName } from '../lib/languages';
import type { LengthUnit } from '../lib/units';
import { ownLanguage, spoken } from '../words/spoken.svelte';

/** `outdoor` is for a screen in sunlight: black on white, strong lines, nothing pale. */
export type Theme = 'auto' | 'light' | 'dark' | 'outdoor';

interface Kept {
  name: string;
  theme: Theme;
  /** Language of what the office shows; nothing where it is as the job or the firm says. */
  language: LanguageName | '';
  /** Lengths of a new job, and of a job that says none. */
  unit: LengthUnit;
}

/** Languages of what is open, and whether the crew looks at it; what is not said stays as it was. */
interface Speakers {
  job?: string | null;
  firm?: string | null;
  /** Language of the crew of the open job. */
  crews?: string | null;
  crew?: boolean;
}

const KEY = 'loamline';

function kept(): Kept {
  const usual: Kept = { name: '', theme: 'auto', language: '', unit: 'm' };
  try {
    return { ...usual, ...(JSON.parse(localStorage.getItem(KEY) ?? '{}') as Partial<Kept>) };
  } catch {
    return usual;
  }
}

class Prefs {
  name = $state('');
  theme = $state<Theme>('auto');
  /** The language this person chose; nothing for that of the job or the firm. */
  language = $state<LanguageName | ''>('');
  /** As the open job has it; nothing while none is open, or where it says none. */
  #languageOfJob = '';
  /** As the firm has it, for jobs that say none. */
  #languageOfFirm = '';
  /** As the crew of the open job has it. */
  #languageOfCrew = '';
  /** Whether whoever looks belongs to the crew: they are spoken to in its language, else in that of their phone. */
  #crew = false;
  /** As this person would have it; `unit` is what counts. */
  own = $state<LengthUnit>('m');
  /** As the open job has it; `null` while none is open, or where it says nothing. */
  ofJob = $state<LengthUnit | null>(null);
  /** Whether what is shown is dark now, by choice or by the system. */
  dark = $state(false);

  constructor() {
    const { unit, ...rest } = kept();
    Object.assign(this, rest, { own: unit });
  }

  /** The unit everything is shown in: that of the open job, else one's own. */
  get unit(): LengthUnit {
    return this.ofJob ?? this.own;
  }

  /** A job is open that says these units; nothing where it says none, or is closed. */
  reads(units: string | null | undefined) {
    this.ofJob = units === 'us' ? 'ft' : units === 'metric' ? 'm' : null;
  }

  /** The language of the open job, and of the firm where that is known by now: the office speaks it unless a person chose one. */
  speaks({ job, firm, crew, crews }: Speakers) {
    if (job !== undefined) this.#languageOfJob = job ?? '';
    if (crews !== undefined) this.#languageOfCrew = crews ?? '';
    if (crew !== undefined) this.#crew = crew;
    if (firm !== undefined) this.#languageOfFirm = firm ?? '';
    this.#speak();
  }

  #speak() {
    const known = LANGUAGES.some((l) => l.value === this.language);
    const crews = this.#crew ? this.#languageOfCrew || (this.#languageOfJob ? '' : ownLanguage()) : '';
    void spoken.speaks((known && this.language) || crews || this.#languageOfJob || this.#languageOfFirm);
  }

  /** What plans are drawn on. */
  get ground(): Ground {
    return this.dark ? 'dark' : 'pale';
  }

  /** Who an edit is by, as others will read it. */
  get who() {
    return this.name.trim() || 'somebody';
  }

  set(change: Partial<Kept>) {
    const { unit, ...rest } = change;
    Object.assign(this, rest, unit ? { own: unit } : {});
    try {
      const { name, theme, language, own } = this;
      localStorage.setItem(KEY, JSON.stringify({ name, theme, language, unit: own }));
    } catch {
      // A browser that keeps nothing still works; it only forgets.
    }
    this.apply();
    if (change.language !== undefined) this.#speak();
  }

  apply() {
    this.dark = this.theme === 'dark' || (this.theme === 'auto' && systemDark.matches);
    document.documentElement.dataset.theme =
      this.theme === 'outdoor' ? 'outdoor' : this.dark ? 'dark' : 'light';
  }
}

const systemDark = matchMedia('(prefers-color-scheme: dark)');
export const prefs = new Prefs();
systemDark.addEventListener('change', () => prefs.apply());
