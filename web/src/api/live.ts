/** The live channel of a job: edits of others, level maps, figures, progress. Comes back by itself after a break. */
import { readFrame, type Frame } from '../lib/frame';
import type { Patch } from '../lib/pointer';
import type { Problem } from './client';
import type { Alike } from './shapes';

export interface AreaFigures {
  mean_dba: number;
  p10_dba: number;
  p90_dba: number;
  share_within: number;
  bass_over_mid_db: number;
}
export interface NeighbourFigures {
  day_margin_db: number | null;
  night_margin_db: number | null;
}

export type LiveMessage =
  | { kind: 'edit'; revision: number; patch: Patch; who: string; note: string }
  | {
      kind: 'figures';
      request: number;
      revision: number;
      areas: Record<string, AreaFigures>;
      neighbours: Record<string, NeighbourFigures>;
      preview: boolean;
      /** Absent for a preview. */
      findings?: unknown[];
      /** Those of them that say the same of different things, by their places. */
      alike?: Alike[];
    }
  | {
      kind: 'propose';
      run: string;
      phase: string;
      /** Its place among those that wait, while it waits. */
      place?: number;
      /** How far it is, 0 to 1. */
      share?: number;
      best_cost: number | null;
      bound: number | null;
      done: boolean;
    }
  | { kind: 'people'; names: string[] }
  | { kind: 'waiting'; request: number; before: number }
  | { kind: 'refused'; request: number | null; problems: Problem[] }
  /** `app`: the version of the app inside the program. */
  | { kind: 'hello'; revision: number; app?: string }
  | { kind: 'behind' }
  | { kind: 'gone' };

export type Bounds = [number, number, number, number];

export interface MapRequest {
  quantity: 'LAeq' | 'LCeq' | 'LZeq' | 'band';
  band_hz?: number;
  /** West, south, east, north of the part of the plan, m; all that is drawn when absent. */
  bounds?: Bounds;
  preview?: Patch;
  /** Whether figures are wanted with it. */
  figures: boolean;
}

export interface Listener {
  message(message: LiveMessage): void;
  frame(frame: Frame): void;
  state(connected: boolean): void;
}

const FIRST_PAUSE_MS = 300;
const LONGEST_PAUSE_MS = 8000;

export class Live {
  #socket: WebSocket | null = null;
  #pause = FIRST_PAUSE_MS;
  #timer: ReturnType<typeof setTimeout> | undefined;
  #closed = false;
  #next = 0;

  constructor(
    readonly url: () => string,
    readonly listener: Listener,
  ) {
    this.#open();
  }

  #open() {
    const socket = new WebSocket(this.url());
    socket.binaryType = 'arraybuffer';
    this.#socket = socket;
    socket.onopen = () => {
      this.#pause = FIRST_PAUSE_MS;
      this.listener.state(true);
    };
    socket.onmessage = ({ data }) => {
      if (typeof data === 'string') this.listener.message(JSON.parse(data) as LiveMessage);
      else {
        const frame = readFrame(data as ArrayBuffer);
        if (frame) this.listener.frame(frame);
      }
    };
    socket.onclose = () => {
      if (this.#closed) return;
      this.listener.state(false);
      this.#timer = setTimeout(() => this.#open(), this.#pause);
      this.#pause = Math.min(LONGEST_PAUSE_MS, this.#pause * 2);
    };
  }

  /** Asks for a map; returns the number its frame will carry, or `null` while there is no connection. */
  map(wanted: MapRequest): number | null {
    const request = ++this.#next;
    return this.#send({ kind: 'map', request, ...wanted }) ? request : null;
  }

  mapOff() {
    this.#send({ kind: 'map_off' });
  }

  #send(message: unknown): boolean {
    if (this.#socket?.readyState !== WebSocket.OPEN) return false;
    this.#socket.send(JSON.stringify(message));
    return true;
  }

  close() {
    this.#closed = true;
    clearTimeout(this.#timer);
    this.#socket?.close();
  }
}
