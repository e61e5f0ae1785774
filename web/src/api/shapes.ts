/** Answers of the server, by their short names. */
import type { Patch } from '../lib/pointer';

export interface JobSummary {
  id: string;
  name: string;
  summary: string;
  revision: number;
  changed_at: string;
}
export interface JobView {
  id: string;
  name: string;
  revision: number;
  document: unknown;
  resolved: unknown;
  undo: { note: string } | null;
  redo: { note: string } | null;
}
export interface HistoryEntry {
  revision: number;
  who: string;
  at: string;
  note: string;
  patch: Patch;
}
export interface Finding {
  severity: 'error' | 'warning' | 'note';
  subject: { kind: string; id: string };
  sentence: string;
  mend?: string | null;
  mend_patch?: Patch | null;
}
export interface CatalogueLoudspeaker {
  description: string;
  kind: string;
  price?: number | string;
  [more: string]: unknown;
}
export interface Catalogue {
  loudspeakers: Record<string, CatalogueLoudspeaker>;
  amplifiers: Record<string, { description: string; [more: string]: unknown }>;
  cables: Record<string, { description: string; [more: string]: unknown }>;
}

/** Levels by place and what makes them. */
export interface ProbeView {
  revision: number;
  at: [number, number, number];
  indoors: boolean;
  level_dba: number;
  frequencies_hz: number[];
  bands_db: number[];
  loudspeakers: {
    loudspeaker: string;
    level_dba: number;
    arrival_s: number;
    bands_db: number[];
    paths: { way: string; length_m: number; level_dba: number }[];
  }[];
  working: string[];
}
export interface BassView {
  revision: number;
  subwoofers: string[];
  areas: Record<
    string,
    {
      subwoofers: string[];
      level_db: number;
      deviation_db: number;
      bands: { frequency_hz: number; level_db: number; deviation_db: number; lowest_db: number }[];
      nulls: { frequency_hz: number; at: [number, number, number]; below_louder_db: number; share: number }[];
      settings: {
        subwoofers: { loudspeaker: string; inverted: boolean; delay_s: number }[];
        deviation_db: number;
        level_db: number;
      }[];
    }
  >;
}
export interface LinesView {
  revision: number;
  lines: Record<
    string,
    {
      rated_v: number | null;
      counted_w: number | null;
      frequencies_hz: number[];
      impedance_ohm: number[];
      lowest_ohm: number;
      lowest_hz: number;
      loudspeakers: {
        loudspeaker: string;
        voltage_v: number;
        power_w: number;
        loss_db: number;
        tap_w: number | null;
      }[];
    }
  >;
  channels: Record<
    string,
    {
      counted_w: number | null;
      rated_power_w: number;
      used_share: number;
      allowed_share: number;
      fits: boolean;
      spare_w: number | null;
      lowest_ohm: number;
      lowest_hz: number;
      current_headroom_db: number;
    }
  >;
  runs: RunView[];
}
export interface RunView {
  line: string;
  id: string;
  from: string;
  to: string;
  cable: string;
  way: [number, number][];
  order_m: number;
  path_m: number;
  length_stated: boolean;
  pieces: { surface: string | null; laying: string | null; length_m: number }[];
  sleeves: string[];
  crosses: string[];
  current_a: number | null;
  loss_w: number | null;
  loop_resistance_ohm: number | null;
}
export interface RouteView {
  revision: number;
  patch: Patch;
  summary: { order_m: number; by_laying_m: Record<string, number>; hand_dig_m: number; price: number };
  findings: Finding[];
}
/** One proposed design. */
export interface Proposal {
  cost: number;
  summary: string;
  figures: Record<string, string>;
  patch: Patch;
}
export interface ProposeRun {
  done: boolean;
  options: Proposal[];
}
/** Processing worked out. */
export interface ProcessingView {
  revision: number;
  frequencies_hz: number[];
  channels: Record<
    string,
    { before_db: number[]; after_db: number[]; settings: { setting: string; value: string }[] }
  >;
  areas: Record<
    string,
    {
      name: string;
      target_dba: number;
      before: { mean_dba: number };
      after: { mean_dba: number };
      uneven_before_db: number;
      uneven_after_db: number;
    }
  >;
  order: {
    stage: string;
    reason: string;
    steps: { about: string | null; action: string; confirm: string | null }[];
  }[];
  patch: Patch;
}
export interface PapersView {
  revision: number;
  documents: { file: string; title: string; pages?: number | null }[];
}
export interface LocateView {
  explanations: { sentence: string; probability: number; healthy: boolean }[];
  unexplained: string | null;
  next: string | null;
}
export interface ExpectView {
  lines: Record<
    string,
    {
      readings: {
        place: string;
        frequency_hz: number;
        ohm: number | null;
        low_ohm: number | null;
        high_ohm: number | null;
      }[];
    }
  >;
}
