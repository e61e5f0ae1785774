/** Who asks from here, and what they may do: known once the machine has said it. */
import { get } from '../api/client';
import type { MeView } from '../api/shapes';

class Me {
  view = $state.raw<MeView | null>(null);

  /** Whether this device is let in for readings, ticks and photos alone. */
  get isCrew() {
    return this.view?.role === 'crew';
  }

  /** Whether what stands at a place of the job may be changed from here. */
  mayChange(path: string) {
    return !this.isCrew || path.startsWith('/visits/');
  }

  /** Asks the machine; out of reach, what it said last holds. */
  async load() {
    const view = await get<MeView>('/me').catch(() => null);
    if (view) this.view = view;
  }
}

export const me = new Me();
