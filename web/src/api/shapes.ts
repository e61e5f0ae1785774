/** Answers of the server by their short names, from its own description (schema.ts is generated from it). */
import type { Patch } from '../lib/pointer';
import type { components } from './schema';

type Schemas = components['schemas'];

export type JobSummary = Schemas['JobSummary'];
export type JobView = Schemas['JobView'];
export type HistoryEntry = Schemas['EntryView'];
export type BassView = Schemas['BassView'];
export type LinesView = Schemas['LinesView'];
export type RunView = Schemas['RunView'];
export type ProbeView = Schemas['ProbeView'];
export type RouteView = Omit<Schemas['RouteView'], 'patch'> & { patch: Patch };
/** A finding, with the edit that would mend it where the server knows one. */
export type Finding = Schemas['FindingView'] & { mend_patch?: Patch | null };

/** The equipment of a job: keys as in the catalogue's own files. */
export interface Catalogue {
  loudspeakers: Record<string, Equipment & { kind: string }>;
  amplifiers: Record<string, Equipment>;
  cables: Record<string, Equipment>;
}
export interface Equipment {
  description: string;
  price?: number | string | null;
  [more: string]: unknown;
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
export interface PaperView {
  file: string;
  title: string;
  media_type: string;
  size: number;
}
export interface PapersView {
  revision: number;
  documents: PaperView[];
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
