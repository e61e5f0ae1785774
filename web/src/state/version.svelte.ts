/**
 * Whether this page is of the app that the program carries which answers it. After an update of the program a page that was
 * open, or was kept for work without a network, is of the app before: what is answered may have other shapes than it reads.
 * It loads itself anew as soon as nothing on it would be lost, once; where that does not help it says so and goes on.
 *
 * `same`: nothing to do. `waits`: it is going to load itself anew; what a phone has kept waits for the new page, which sends it
 * as the program wants it. `stuck`: that was tried and did not help; a person decides, and everything goes on meanwhile.
 */
import { watchLeaving } from './leaving';
import { handsOff, nothingUnsaved, watchHands } from './unsaved';

/** The header every answer says it in. */
export const VERSION_HEADER = 'x-loamline-app';

/** How often it is looked whether the page may go, ms. */
const LOOK_MS = 1000;
/** Within so long no page loads itself anew twice, whatever it is told: two programs at one address would do that for ever, ms. */
const ONCE_IN_MS = 600_000;
/** So often what a phone keeps may fail to be brought up to date, with the machine in reach, before it is told. */
const TRIES = 3;
/** How long bringing it up to date may take, ms. */
const PATIENCE_MS = 60_000;
/** An answer not older than this needs no other, ms. */
const FRESH_MS = 60_000;
const KEY = 'loamline-anew';

/** When this page, in this tab, last loaded itself anew, and for which version; `null` once that one had come. */
interface Tried {
  for: string | null;
  at_ms: number;
}

/** What it needs of the browser. */
export interface Around {
  /** What this page's app calls itself; `null` where it was not built. */
  own: string | null;
  /** Whether the page may go: nothing would be lost and, unless a person asked for it, no hand is at work. */
  free(asked: boolean): boolean;
  /** Brings what this browser keeps of the app up to date, or throws. */
  newest(): Promise<void>;
  /** Gives up what this browser keeps of the app, so that it comes from the machine itself. */
  forget(): Promise<void>;
  /** Asks the machine for its version: [`Version.heard`] with the answer, or throws. */
  ask(): Promise<string | null>;
  reload(): void;
  store: Pick<Storage, 'getItem' | 'setItem'>;
  now_ms(): number;
}

export class Version {
  state = $state<'same' | 'waits' | 'stuck'>('same');
  /** The version of the program, where it is another. */
  #theirs: string | null = null;
  #heard_ms = -Infinity;
  #failed = 0;
  #timer: ReturnType<typeof setTimeout> | undefined;
  /** Counts what was begun, so that only the newest goes on. */
  #round = 0;

  constructor(readonly around: Around) {}

  /** An answer said of which version the program is. */
  heard(theirs: string | null | undefined) {
    const { own, now_ms } = this.around;
    if (!own || !theirs) return;
    this.#heard_ms = now_ms();
    if (theirs === own) {
      if (this.state !== 'same') this.#rest('same');
      this.#theirs = null;
      this.#arrived(own);
      return;
    }
    if (theirs === this.#theirs && this.state !== 'same') return;
    this.#theirs = theirs;
    if (this.#tried(theirs)) this.#rest('stuck');
    else void this.#go(false);
  }

  /** A person wants it now: whatever this browser keeps of the app is left aside. */
  anew() {
    void this.#go(true);
  }

  /** Asks; unless it has to be known for sure, not where the machine has just answered. */
  async ask(forSure = false) {
    if (!this.around.own) return;
    if (!forSure && this.around.now_ms() - this.#heard_ms < FRESH_MS) return;
    try {
      this.heard(await this.around.ask());
    } catch {
      // Out of reach: the page works as it is.
    }
  }

  #rest(state: 'same' | 'stuck') {
    clearTimeout(this.#timer);
    this.#round++;
    this.state = state;
  }

  async #go(asked: boolean) {
    clearTimeout(this.#timer);
    const round = ++this.#round;
    this.state = 'waits';
    try {
      await (asked ? this.around.forget() : this.around.newest());
    } catch {
      if (round === this.#round) await this.#missed(round);
      return;
    }
    if (round === this.#round) this.#leave(asked);
  }

  /** It could not be brought up to date. Out of reach that is no wonder: the next answer begins anew. */
  async #missed(round: number) {
    const theirs = await this.around.ask().catch(() => null);
    if (round !== this.#round) return;
    if (theirs === null || theirs === this.around.own) this.#rest('same');
    else if (++this.#failed >= TRIES) this.#rest('stuck');
    else this.#timer = setTimeout(() => void this.#go(false), LOOK_MS * 10);
  }

  #leave(asked: boolean) {
    if (!this.around.free(asked)) {
      this.#timer = setTimeout(() => this.#leave(asked), LOOK_MS);
      return;
    }
    // Where nothing can be remembered it could go on for ever: a person has to ask for it.
    if (!this.#remember({ for: this.#theirs, at_ms: this.around.now_ms() }) && !asked) this.#rest('stuck');
    else this.around.reload();
  }

  /** Whether loading anew for a version was tried, or for any just now. */
  #tried(theirs: string): boolean {
    const last = this.#last();
    if (!last) return false;
    return last.for === theirs || Math.abs(this.around.now_ms() - last.at_ms) < ONCE_IN_MS;
  }

  /** The version that was loaded for has come: should it come again another day, it is loaded for again. */
  #arrived(own: string) {
    const last = this.#last();
    if (last?.for === own) this.#remember({ ...last, for: null });
  }

  #last(): Tried | null {
    try {
      return JSON.parse(this.around.store.getItem(KEY) ?? 'null') as Tried | null;
    } catch {
      return null;
    }
  }

  #remember(tried: Tried): boolean {
    try {
      this.around.store.setItem(KEY, JSON.stringify(tried));
      return true;
    } catch {
      return false;
    }
  }
}

/** Waits until a service worker has taken over; throws when it never will. */
function inPlace(worker: ServiceWorker): Promise<void> {
  return new Promise((done, failed) => {
    const look = () => {
      if (worker.state === 'activated') done();
      else if (worker.state === 'redundant') failed(new Error('the new version could not be kept'));
    };
    worker.addEventListener('statechange', look);
    look();
  });
}

async function newest() {
  const registration = await navigator.serviceWorker?.getRegistration();
  // Without a service worker the page comes from the machine every time.
  if (!registration) return;
  await registration.update();
  const worker = registration.installing ?? registration.waiting;
  if (worker) await inPlace(worker);
}

/** Throws when something takes longer than anybody would wait for. */
const inTime = <T>(work: Promise<T>): Promise<T> =>
  Promise.race([
    work,
    new Promise<never>((_, failed) => setTimeout(() => failed(new Error('it took too long')), PATIENCE_MS)),
  ]);

/** The address of the page itself: never answered by the service worker, which answers what is read alone. */
const ask = async () => {
  const response = await fetch('/', { method: 'HEAD', cache: 'no-store' });
  return response.headers.get(VERSION_HEADER);
};

export const version = new Version({
  own: document.querySelector<HTMLMetaElement>('meta[name="loamline-app"]')?.content || null,
  free: (asked) => nothingUnsaved() && (asked || handsOff()),
  newest: () => inTime(newest()),
  forget: () =>
    inTime(
      (async () => {
        // Out of reach what is kept is all there is.
        await ask();
        const all = (await navigator.serviceWorker?.getRegistrations()) ?? [];
        await Promise.all(all.map((r) => r.unregister()));
      })(),
    ),
  ask: () => inTime(ask()),
  reload: () => location.reload(),
  get store() {
    return sessionStorage;
  },
  now_ms: () => Date.now(),
});

/** Looks out for a newer program whenever the page may not have heard of one, and for hands that are in the middle of something. */
export function watchVersion() {
  watchHands();
  watchLeaving();
  if (!version.around.own) return;
  document.addEventListener('visibilitychange', () => {
    if (document.visibilityState === 'visible') void version.ask();
  });
  addEventListener('online', () => void version.ask(true));
  // A part that is brought in later was not there: it may be one of an app that is gone.
  addEventListener('vite:preloadError', () => void version.ask(true));
}
