/** The level map: what is asked of the live channel and what is shown. The newest answer wins; an old one never stands as if it were new. */
import type { Live, MapRequest } from '../api/live';
import { loudest, type Frame } from '../lib/frame';
import type { Patch } from '../lib/pointer';
import { scaleFor, type Scale } from '../lib/palette';

export type Quantity = 'LAeq' | 'LCeq' | 'LZeq' | 'band';

/** How long an answer may take before what is shown is marked as old, ms: longer than a frame, shorter than a doubt. */
const OLD_AFTER_MS = 350;
/** How often figures are asked for while something is dragged, ms: as fast as numbers can be read; maps come faster. */
const FIGURES_EVERY_MS = 150;
/** Name of the browser's own timing entries from pointer event to painted map. */
export const DRAG_TIMING = 'drag to map';

export class LevelMap {
  on = $state(false);
  quantity = $state<Quantity>('LAeq');
  band_hz = $state(1000);
  contours = $state(true);
  frame = $state.raw<Frame | null>(null);
  scale = $state.raw<Scale | null>(null);
  /** What is shown belongs to an earlier state of the job. */
  old = $state(false);
  /** Why there is no map, in words. */
  why = $state<string | null>(null);
  #asked = 0;
  #figures = 0;
  #figures_ms = 0;
  #asked_at = new Map<number, number>();
  #timer: ReturnType<typeof setTimeout> | undefined;
  #rest: ReturnType<typeof setTimeout> | undefined;
  #queued = false;
  #event_ms: number | null = null;

  constructor(
    readonly live: Live,
    readonly wanted: () => { preview: Patch | null; spacing_m: number },
  ) {}

  /** Shows the map and keeps it up to date. */
  start() {
    this.on = true;
    this.ask();
  }

  stop() {
    this.on = false;
    this.frame = null;
    this.scale = null;
    clearTimeout(this.#timer);
    clearTimeout(this.#rest);
    this.live.mapOff();
  }

  show(quantity: Quantity, band_hz?: number) {
    this.quantity = quantity;
    if (band_hz) this.band_hz = band_hz;
    this.scale = null;
    this.ask();
  }

  /** Asks for the map of the job as it is drawn, at most once per screen refresh. `event_ms`: when the hand moved. */
  ask(event_ms: number | null = null) {
    if (!this.on) return;
    this.#event_ms ??= event_ms;
    if (this.#queued) return;
    this.#queued = true;
    requestAnimationFrame(() => {
      this.#queued = false;
      this.#ask();
    });
  }

  #ask() {
    const { preview, spacing_m } = this.wanted();
    const wanted: MapRequest = {
      quantity: this.quantity,
      spacing_m,
      figures: !preview || performance.now() - this.#figures_ms > FIGURES_EVERY_MS,
    };
    if (wanted.figures) this.#figures_ms = performance.now();
    if (this.quantity === 'band') wanted.band_hz = this.band_hz;
    if (preview) wanted.preview = preview;
    // A hand that rests sees the figures of where it rests.
    clearTimeout(this.#rest);
    if (!wanted.figures) this.#rest = setTimeout(() => this.ask(), FIGURES_EVERY_MS);
    const request = this.live.map(wanted);
    const event_ms = this.#event_ms;
    this.#event_ms = null;
    if (request === null) {
      this.old = true;
      return;
    }
    this.#asked = request;
    if (event_ms !== null) this.#asked_at.set(request, event_ms);
    clearTimeout(this.#timer);
    this.#timer = setTimeout(() => (this.old = true), OLD_AFTER_MS);
  }

  arrived(frame: Frame) {
    if (!this.on || (this.frame && frame.request < this.frame.request)) return;
    const top = loudest(frame);
    if (top !== null) {
      const fits = this.scale && top <= this.scale.high_db + 3 && top > this.scale.high_db - 9;
      if (!fits) this.scale = scaleFor(top);
    }
    this.frame = frame;
    this.why = top === null ? 'Nothing sounds yet: place a loudspeaker and give it a line and a tap.' : null;
    if (frame.request >= this.#asked) {
      clearTimeout(this.#timer);
      this.old = false;
    }
  }

  /** Told by the canvas when a frame is on the screen. */
  painted(request: number) {
    const start = this.#asked_at.get(request);
    if (start !== undefined) performance.measure(DRAG_TIMING, { start, end: performance.now() });
    for (const n of this.#asked_at.keys()) if (n <= request) this.#asked_at.delete(n);
  }

  /** Whether figures of a request are older than those shown. */
  isOld(request: number) {
    if (request < this.#figures) return true;
    this.#figures = request;
    return false;
  }

  refused(request: number | null, why: string) {
    if (request !== null && request < this.#asked) return;
    clearTimeout(this.#timer);
    this.frame = null;
    this.why = why;
  }

  /** The job has changed. */
  changed(_revision: number) {
    this.ask();
  }

  connection(connected: boolean) {
    if (connected) this.ask();
    else this.old = true;
  }
}
