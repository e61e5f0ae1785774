/** Answers of the server by their short names, from its own description (schema.ts is generated from it). */
import type { Patch } from '../lib/pointer';
import type { components } from './schema';

type Schemas = components['schemas'];

export type JobSummary = Schemas['JobSummary'];
export type ShareView = Schemas['SharingView'];
export type DeviceView = Schemas['DeviceView'];
export type JobView = Schemas['JobView'];
export type HistoryEntry = Schemas['EntryView'];
export type BassView = Schemas['BassView'];
export type LinesView = Schemas['LinesView'];
export type RunView = Schemas['RunView'];
export type ProbeView = Schemas['ProbeView'];
export type ProcessingView = Omit<Schemas['ProcessingView'], 'patch'> & { patch: Patch };
export type LocateView = Schemas['LocateView'];
export type ExpectView = Schemas['ExpectView'];
export type PaperView = Schemas['PaperView'];
export type PapersView = Schemas['PapersView'];
export type RouteView = Omit<Schemas['RouteView'], 'patch'> & { patch: Patch };
export type TakenOutView = Omit<Schemas['TakenOutView'], 'patch'> & { patch: Patch };
export type PutOnView = Omit<Schemas['PutOnView'], 'patch'> & { patch: Patch };
/** A finding, with the edit that would mend it where the server knows one. */
export type Finding = Omit<Schemas['FindingView'], 'mend_patch'> & { mend_patch?: Patch };

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

/** One proposed design, and what it is best at. */
export interface Proposal {
  kinds: string[];
  cost: number;
  net: number;
  choice_cost: number;
  summary: string;
  figures: Record<string, string>;
  reasons: { loudspeaker: string; sentence: string }[];
  findings: Finding[];
  patch: Patch;
}
export interface ProposeRun {
  done: boolean;
  stopped: boolean;
  options: Proposal[];
  /** Proven: none among the candidates costs less. */
  bound: number | null;
  places: number;
  candidates: number;
  /** Why none was found, and the edit of the brief that comes nearest. */
  failure?: { sentence: string; nearest?: string | null; relax?: Patch | null } | null;
}
