/** Choosing by clicks: the uppermost thing first; a further click in the same place goes on to the one below. */
import { sameThing, type Thing } from '../api/document';
import type { PlanPress } from './press';
import { samePlace } from './twice';

/** A press as far as this looks at it. */
interface Click {
  event: Pick<PlanPress['event'], 'clientX' | 'clientY'>;
}

export class Choosing {
  #last: Click['event'] | null = null;

  /** What a click chooses of the things under it, uppermost first. */
  click({ event }: Click, things: readonly Thing[], chosen: Thing | null): Thing | null {
    const again = this.here({ event });
    this.#last = event;
    const at = again ? things.findIndex((t) => sameThing(t, chosen)) : -1;
    return things[(at + 1) % things.length] ?? null;
  }

  /** Whether the last click was in this place. */
  here({ event }: Click): boolean {
    return this.#last !== null && samePlace(this.#last, event);
  }
}
