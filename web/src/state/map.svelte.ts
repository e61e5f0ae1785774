/** The level map: what is asked of the live channel and what is shown. The newest answer wins; an old one never stands as if it were new. */
import type { Bounds, Live, MapRequest } from '../api/live';
import { loudest, type Frame } from '../lib/frame';
import type { Patch } from '../lib/pointer';
import { scaleFor, type Scale } from '../lib/palette';
import { Turns } from './turns';

export type Quantity = 'LAeq' | 'LCeq' | 'LZeq' | 'band';

/** How long an answer may take before what is shown is marked as old, ms: longer than a frame, shorter than a doubt. */
const OLD_AFTER_MS = 350;
/** How often figures are asked for while something is dragged, ms: as fast as numbers can be read; maps come faster. */
const FIGURES_EVERY_MS = 150;
/** Name of the browser's own timing entries from pointer event to painted map. */
export const DRAG_TIMING = 'drag to map';

/** When each stage of a drag's picture was over, ms as `performance.now`. */
interface Timing {
  event_ms: number;
  asked_ms: number;
  answered_ms?: number;
  drawn_ms?: number;
}

export class LevelMap {
  on = $state(false);
  quantity = $state<Quantity>('LAeq');
  band_hz = $state(1000);
  contours = $state(true);
  /** Whether it shows where areas get what they want, rather than levels. */
  verdicts = $state(false);
  /** How far what is shown is turned down from the system as set, dB. */
  down_db = $state(0);
  /** The map of the system as set. */
  frame = $state.raw<Frame | null>(null);
  scale = $state.raw<Scale | null>(null);
  /** What is shown belongs to an earlier state of the job. */
  old = $state(false);
  /** How many maps of others are made before this one, while it waits for them. */
  before = $state(0);
  /** Whether there is no map because nothing sounds. */
  silent = $state(false);
  /** Why there is no map, in words. */
  why = $state<string | null>(null);
  /** The part of the plan that is asked for; all of it where there is none. */
  bounds: Bounds | null = null;
  /** Where the places of the whole plan lie, once a map of it was seen. */
  whole: Pick<Frame, 'x0_m' | 'y0_m' | 'columns' | 'rows' | 'spacing_m'> | null = null;
  /** Parts that were asked for, by request. */
  #parts = new Map<number, Bounds>();
  #asked = 0;
  #figures = 0;
  #figures_ms = 0;
  #timings = new Map<number, Timing>();
  #timer: ReturnType<typeof setTimeout> | undefined;
  #rest: ReturnType<typeof setTimeout> | undefined;
  /** When the hand moved for what is asked next. */
  #event_ms: number | null = null;
  /** What a hand drags, ahead of what is drawn; none while nothing is dragged. */
  #ahead: Patch | null = null;
  #turns = new Turns(() => this.#ask(), OLD_AFTER_MS);

  constructor(
    readonly live: Live,
    /** What a hand drags, as far as it is drawn. */
    readonly dragged: () => Patch | null,
  ) {}

  /** What is painted: the map turned down, on the scale of the map as set, so that one colour is one level. */
  get shown(): Frame | null {
    const { frame } = this;
    if (!frame || this.down_db === 0 || this.verdicts) return frame;
    return { ...frame, first_db: frame.first_db - this.down_db };
  }

  /** Shows the map and keeps it up to date. */
  start() {
    this.on = true;
    this.ask();
  }

  stop() {
    this.on = false;
    this.down_db = 0;
    this.before = 0;
    this.frame = null;
    this.scale = null;
    this.bounds = null;
    this.whole = null;
    this.#parts.clear();
    clearTimeout(this.#timer);
    clearTimeout(this.#rest);
    this.#turns.forget();
    this.live.mapOff();
  }

  show(quantity: Quantity, band_hz?: number) {
    this.verdicts = false;
    this.#of(quantity, band_hz);
  }

  /** Shows where it is as loud as wanted: targets are LAeq. */
  showVerdicts() {
    this.verdicts = true;
    this.#of('LAeq');
  }

  #of(quantity: Quantity, band_hz?: number) {
    this.quantity = quantity;
    if (band_hz) this.band_hz = band_hz;
    this.scale = null;
    this.ask();
  }

  /** Looks at a part of the plan, or at all of it. */
  look(bounds: Bounds | null) {
    if (this.bounds === bounds) return;
    this.bounds = bounds;
    this.ask();
  }

  /** Asks for the map of the job as it is drawn. */
  ask() {
    if (!this.on) return;
    this.#ahead = null;
    this.#turns.want();
  }

  /**
   * Asks for the map of a drag under way as soon as the hand moves, before it is drawn. `event_ms`: when the hand moved.
   */
  follow(preview: Patch, event_ms: number) {
    // The event that is drawn repeats the one that was faster.
    if (!this.on || JSON.stringify(preview) === JSON.stringify(this.#ahead)) return;
    this.#ahead = preview;
    this.#event_ms ??= event_ms;
    this.#turns.want();
  }

  /** The number of the question; `null` when it could not be put. */
  #ask(): number | null {
    if (!this.on) return null;
    const preview = this.#ahead ?? this.dragged();
    const wanted: MapRequest = {
      quantity: this.quantity,
      figures: !preview || performance.now() - this.#figures_ms > FIGURES_EVERY_MS,
    };
    if (wanted.figures) this.#figures_ms = performance.now();
    if (this.quantity === 'band') wanted.band_hz = this.band_hz;
    if (preview) wanted.preview = preview;
    if (this.bounds) wanted.bounds = this.bounds;
    // A hand that rests sees the figures of where it rests.
    clearTimeout(this.#rest);
    if (!wanted.figures) this.#rest = setTimeout(() => this.#turns.want(), FIGURES_EVERY_MS);
    const request = this.live.map(wanted);
    const event_ms = this.#event_ms;
    this.#event_ms = null;
    if (request === null) {
      this.old = true;
      return null;
    }
    this.#asked = request;
    if (this.bounds) this.#parts.set(request, this.bounds);
    if (event_ms !== null) this.#timings.set(request, { event_ms, asked_ms: performance.now() });
    clearTimeout(this.#timer);
    this.#timer = setTimeout(() => (this.old = true), OLD_AFTER_MS);
    return request;
  }

  arrived(frame: Frame) {
    if (!this.on || (this.frame && frame.request < this.frame.request)) return;
    this.before = 0;
    const timing = this.#timings.get(frame.request);
    if (timing) timing.answered_ms = performance.now();
    if (!this.#parts.has(frame.request)) {
      const { x0_m, y0_m, columns, rows, spacing_m } = frame;
      this.whole = { x0_m, y0_m, columns, rows, spacing_m };
    }
    for (const n of this.#parts.keys()) if (n <= frame.request) this.#parts.delete(n);
    const top = loudest(frame);
    this.silent = top === null;
    if (top === null) {
      // Nothing is painted where nothing sounds: silence has no colour.
      this.frame = null;
      this.scale = null;
    } else {
      const fits = this.scale && top <= this.scale.high_db + 3 && top > this.scale.high_db - 9;
      if (!fits) this.scale = scaleFor(top);
      this.frame = frame;
    }
    this.why = null;
    if (frame.request >= this.#asked) {
      clearTimeout(this.#timer);
      this.old = false;
    }
    this.#turns.answered(frame.request);
  }

  /** Told by the canvas when a frame is drawn, and again when the screen's next picture is made, which shows it. */
  drawn(request: number) {
    const timing = this.#timings.get(request);
    if (timing) timing.drawn_ms = performance.now();
  }

  painted(request: number) {
    const timing = this.#timings.get(request);
    if (timing) {
      const { event_ms, ...detail } = timing;
      performance.measure(DRAG_TIMING, { start: event_ms, end: performance.now(), detail });
    }
    for (const n of this.#timings.keys()) if (n <= request) this.#timings.delete(n);
  }

  /** Whether figures of a request are older than those shown. */
  isOld(request: number) {
    if (request < this.#figures) return true;
    this.#figures = request;
    return false;
  }

  /** Told while others' maps are made first. */
  waits(before: number) {
    if (this.on) this.before = before;
  }

  refused(request: number | null, why: string) {
    this.before = 0;
    if (request === null || request >= this.#asked) {
      clearTimeout(this.#timer);
      this.frame = null;
      this.scale = null;
      this.silent = false;
      this.why = why;
    }
    if (request !== null) this.#turns.answered(request);
  }

  /** The job has changed. */
  changed(_revision: number) {
    this.ask();
  }

  connection(connected: boolean) {
    this.#turns.forget();
    if (connected) this.ask();
    else this.old = true;
  }
}
