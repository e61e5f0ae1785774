/** What this browser remembers of the person at it: name, theme, unit of length, mains. */
import type { Ground } from '../lib/palette';
import type { LengthUnit } from '../lib/units';

/** `outdoor` is for a screen in sunlight: black on white, strong lines, nothing pale. */
export type Theme = 'auto' | 'light' | 'dark' | 'outdoor';

interface Kept {
  name: string;
  theme: Theme;
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
  unit = $state<LengthUnit>('m');
  mains = $state('');
  /** Whether what is shown is dark now, by choice or by the system. */
  dark = $state(false);

  constructor() {
    Object.assign(this, kept());
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
    Object.assign(this, change);
    try {
      const { name, theme, unit, mains } = this;
      localStorage.setItem(KEY, JSON.stringify({ name, theme, unit, mains }));
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
