/** What a phone takes along and what it keeps until it is sent. */
import type { JobDocument } from '../api/document';
import type { Catalogue, RunAnswer } from '../api/shapes';
import type { Point } from '../lib/geometry';
import type { Patch } from '../lib/pointer';
import type { Table } from './evaluate';
import type { Rules } from './rules';
import type { Sees } from './sees';

/** A run as it lies. */
export type LaidRun = Omit<RunAnswer, 'way'> & { way: Point[]; order_m: number };

/** A reading to expect; without values the meter shows an open line. */
export interface Expected {
  /** Joint it is taken at, looking away from the rack; `null` at the rack. */
  at: string | null;
  /** 0 for direct current. */
  frequency_hz: number;
  /** What the meter sees there; not in what was taken along by an earlier version. */
  sees?: Sees;
  ohm: number | null;
  low_ohm: number | null;
  high_ohm: number | null;
  /** Outside these a reading is bad, between them and the interval doubtful. */
  far_low_ohm: number | null;
  far_high_ohm: number | null;
  /** A bad reading no higher than this reads as a short along the line does. */
  short_ohm: number | null;
}

export interface ExpectedLine {
  /** The cable between the joints. */
  runs: { id: string; from: string; to: string; electrical_m: number; loop_resistance_ohm: number }[];
  readings: Expected[];
  /** At the rack while the line grows joint by joint. */
  stages: { joint: string; readings: Expected[] }[];
}

/** A reading with the office's verdict. */
export interface JudgedReading {
  visit: string;
  reading: string;
  line: string;
  as_it_was: string | null;
  /** What became of the line since; these three are not in what was taken along by an earlier version. */
  since?: string | null;
  replaced?: boolean;
  other_equipment?: boolean;
  grade: 'good' | 'doubtful' | 'bad' | null;
  says: 'within' | 'low' | 'high' | 'short' | 'open' | null;
  /** The joint the line was built to, where it is not held against the finished line. */
  stage?: string | null;
  verdict: string;
  sentence: string;
}

/** A hole to dig, room and gravel in it. */
export interface Hole {
  loudspeaker: string;
  length_m: number;
  width_m: number;
  depth_m: number;
}

/** A stage at the rack: steps with a box to tick. */
export interface Stage {
  /** Its number in the order of work of the whole job; a pack of an earlier version has none. */
  number?: number;
  stage: string;
  reason: string;
  steps: { about: string | null; action: string; confirm: string | null }[];
}

/** An entry of the job's log, for "what changed since handover". */
export interface Change {
  revision: number;
  who: string;
  at: string;
  note: string;
}

/** A paper kept for reading without a network. */
export interface Paper {
  file: string;
  title: string;
  /** The part of the pack it is, whatever the language of its name; absent in what an earlier version took along. */
  part?: string;
  /** The PDF; absent when it could not be had. */
  pdf: Blob | null;
}

/** A job as it was taken along. */
export interface Pack {
  /** Form of what was sent (rules.ts); not in what was taken along by an earlier version. */
  format?: number;
  id: string;
  name: string;
  revision: number;
  /** When, by the office machine's clock, RFC 3339. */
  taken_at: string;
  /** What to add to this phone's clock to get the office machine's, ms. */
  clock_ms: number;
  /** As typed: what edits address. */
  document: Record<string, unknown>;
  /** Checked, SI numbers, defaults filled in. */
  resolved: JobDocument;
  catalogue: Catalogue;
  runs: LaidRun[];
  /** What every line should read. Of a pack of another form, only where and at which frequencies is to be relied on. */
  expect: Record<string, ExpectedLine>;
  /** Readings with the office's verdicts; of lines replaced since the visit nothing else is known. */
  readings?: JudgedReading[];
  /** Explanations per line. */
  tables: Record<string, Table>;
  /** The numbers of the rules by which readings are weighed, ranked and judged. */
  rules?: Rules;
  /** Why there are none. */
  no_tables: string | null;
  /** Holes to dig; a pack of an earlier version has none. */
  holes?: Hole[];
  order: Stage[];
  /** The same in the language of the crew, and that language; a pack of an earlier version has neither. */
  order_spoken?: Stage[];
  language?: string;
  /** Newest first; `null` when there was no handover yet. */
  changes: Change[] | null;
  papers: Paper[];
  /** The plan picture under everything. */
  underlay: Blob | null;
}

/** One value put under a visit or elsewhere in the job, or taken away from there. */
export interface Put {
  /** Pointer below the visit: `/readings/A-7k2m`; of the job where `in` says so. */
  path: string;
  /** Whether it is no part of the visit: how an amplifier was left. */
  in?: 'job';
  /** As it goes into the document; `undefined` takes it away. */
  typed?: unknown;
  /** The same as the checked document has it. */
  resolved?: unknown;
  /** What stood there when the person acted; `undefined` for nothing. */
  was?: unknown;
}

/** The visit something belongs to; made when it is not there (any more). */
export interface VisitHead {
  id: string;
  date: string;
  kind: string;
  /** Begun on purpose beside another of its day and kind: it joins none. */
  apart?: boolean;
}

/** An edit made on the phone. */
export interface Edit {
  /** Place in the queue, counted by the phone: the only order there is. */
  n: number;
  job: string;
  edit_id: string;
  /** Revision the person saw: what is entered was measured on its lines. */
  base_revision: number;
  visit: VisitHead;
  puts: Put[];
  /** Name of the photo that has to be sent first. */
  photo: string | null;
  who: string;
  note: string;
  /** What it is called in the language it was entered in; not in what an earlier version kept. */
  said?: string;
  /** When, by the phone's clock. */
  at: string;
  /** What was sent, from the first attempt until there is an answer: it is sent again exactly so. */
  sent: { base_revision: number; measured_revision?: number; patch: Patch } | null;
  /** Why it waits for the person. */
  held: Held | null;
}

/** An edit that cannot be sent without a decision. */
export type Held =
  | { why: 'conflict'; path: string; mine: unknown; theirs: unknown; theirs_who: string }
  | { why: 'refused'; sentence: string };

/** A photo on the phone. */
export interface Photo {
  name: string;
  job: string;
  blob: Blob;
  sent: boolean;
}
