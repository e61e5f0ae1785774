/** Pages that are not needed first: each is brought once, ahead of its being opened where there is time for that, and stands from then on. */

/** A part of the app that is brought when it is asked for. */
export class Brought<T> {
  /** The part; nothing until it is here. */
  here = $state.raw<T | null>(null);
  /** Whether it could not be had when it was asked for last. */
  failed = $state(false);
  readonly #from: () => Promise<{ default: T }>;
  #coming: Promise<void> | null = null;

  constructor(from: () => Promise<{ default: T }>) {
    this.#from = from;
  }

  /** Brings it, once; what failed is tried again. Resolves when it is here or could not be had. */
  bring(): Promise<void> {
    if (!this.#coming) {
      this.failed = false;
      this.#coming = this.#from().then(
        (part) => {
          this.here = part.default;
        },
        () => {
          this.failed = true;
          this.#coming = null;
        },
      );
    }
    return this.#coming;
  }
}

export const CABLE = new Brought(() => import('./Cable.svelte'));
export const PROCESSING = new Brought(() => import('./Processing.svelte'));
export const PAPERS = new Brought(() => import('./Papers.svelte'));
export const VISITS = new Brought(() => import('./Visits.svelte'));
/** With the schema of the catalogue: not brought ahead, seldom opened and large. */
export const EQUIPMENT = new Brought(() => import('./Equipment.svelte'));

/** Those that stand among the pages in the order of the work: whoever has a job open goes there next. */
export const NEXT: readonly Brought<unknown>[] = [CABLE, PROCESSING, PAPERS, VISITS];

/** A browser that is never idle brings the next one after so long all the same, ms; one that cannot tell waits so long for each. */
const LATEST_MS = 2000;

const whenIdle = (act: () => void) => {
  if ('requestIdleCallback' in globalThis) requestIdleCallback(act, { timeout: LATEST_MS });
  else setTimeout(act, LATEST_MS);
};

/** Brings parts one after the other whenever the browser has nothing else to do; call what this gives to leave it at that. */
export function bringAhead(parts: readonly Brought<unknown>[]): () => void {
  let over = false;
  const rest = [...parts];
  function next() {
    const part = rest.shift();
    if (!part) return;
    whenIdle(() => {
      if (!over) void part.bring().then(next);
    });
  }
  next();
  return () => {
    over = true;
  };
}
