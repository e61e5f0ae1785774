/** What this browser remembers of the person at it: name, theme, unit of length, mains; and the unit of what it shows. */
import type { Ground } from '../lib/palette';
import type { LengthUnit } from '../lib/units';

/** `outdoor` is for a screen in sunlight: black on white, strong lines, nothing pale. */
export type Theme = 'auto' | 'light' | 'dark' | 'outdoor';

interface Kept {
  name: string;
  theme: Theme;
  /** Lengths of a new job, and of a job that says none. */
  unit: LengthUnit;
  /** Mains a new rack is put on; those that go with the unit while nobody said another. */
  mains: string;
}

const KEY = 'loamline';

function kept(): Kept {
  const usual: Kept = { name: '', theme: 'auto', unit: 'm', mains: '' };
  try {
    return { ...usual, ...(JSON.parse(localStorage.getItem(KEY) ?? '{}') as Partial<Kept>) };
  } catch {
    return usual;
  }
}

class Prefs {
  name = $state('');
  theme = $state<Theme>('auto');
  /** As this person would have it; `unit` is what counts. */
  own = $state<LengthUnit>('m');
  /** As the open job has it; `null` while none is open, or where it says nothing. */
  ofJob = $state<LengthUnit | null>(null);
  mains = $state('');
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
      const { name, theme, own, mains } = this;
      localStorage.setItem(KEY, JSON.stringify({ name, theme, unit: own, mains }));
    } catch {
      // A browser that keeps nothing still works; it only forgets.
    }
    this.apply();
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
