/** The level at a place, and at one that is pinned to compare with. */
import { get, jobPath, words } from '../../api/client';
import type { AtPlaceView } from '../../api/shapes';
import { tidy, type Point } from '../../lib/geometry';
import { say } from '../../words/spoken.svelte';

/** A place kept for comparison: what was heard there when it was pinned, and what is heard now. */
export interface Pinned {
  at: Point;
  then: AtPlaceView;
  now: AtPlaceView;
}

export class Places {
  at = $state.raw<Point | null>(null);
  heard = $state.raw<AtPlaceView | null>(null);
  pinned = $state.raw<Pinned | null>(null);
  trouble = $state<string | null>(null);
  #asked = 0;

  constructor(
    readonly job: string,
    readonly ask: (path: string) => Promise<AtPlaceView> = get,
  ) {}

  #levelAt([x, y]: Point) {
    return this.ask(jobPath(this.job, `/at?x=${x}&y=${y}`));
  }

  /** Measures at a place; an answer that comes after a later question counts no more. */
  async measure(place: Point) {
    const asked = ++this.#asked;
    this.at = tidy(place);
    this.trouble = null;
    try {
      const heard = await this.#levelAt(this.at);
      if (asked === this.#asked) this.heard = heard;
    } catch (e) {
      if (asked !== this.#asked) return;
      this.heard = null;
      this.trouble = words(e);
    }
  }

  pin() {
    if (this.at && this.heard) this.pinned = { at: this.at, then: this.heard, now: this.heard };
  }

  unpin() {
    this.pinned = null;
  }

  /** The job has changed: what is heard is asked for anew, at both places. */
  async again() {
    const { at, pinned } = this;
    await Promise.all([
      at && this.measure(at),
      pinned &&
        this.#levelAt(pinned.at).then(
          (now) => {
            if (this.pinned?.at === pinned.at) this.pinned = { ...this.pinned, now };
          },
          (e: unknown) => (this.trouble = words(e)),
        ),
    ]);
  }
}

/** How far a level is from another, in words; `null` where one of them is none. */
export function difference(level: number, from: number): string | null {
  const by = level - from;
  if (!Number.isFinite(by)) return null;
  if (Math.abs(by) < 0.05) return say('as loud');
  const off = `${Math.abs(by).toFixed(1)} dB`;
  return by > 0 ? say('{off} louder', { off }) : say('{off} quieter', { off });
}
