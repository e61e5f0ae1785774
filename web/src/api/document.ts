/** The job as the server resolves it: SI numbers, defaults filled in, keys as in the document. Only what the app draws or counts. */
import type { Point } from '../lib/geometry';
import type { LanguageName } from '../lib/languages';

/** Whose a thing is, where it says so. */
interface Owned {
  zone?: string | null;
  phase?: string | null;
}
export interface Area extends Owned {
  name: string;
  outline: Point[];
  listeners: 'seated' | 'standing';
  ear_height: number | null;
  target: number;
  within: number;
  bass: number | null;
}
/** A part of the place above the listening area. */
export interface Zone {
  name: string;
  phase: string | null;
}
export interface Neighbour {
  name: string;
  points: Point[];
  line: Point[];
  height: number;
  /** Floors one above the other, by floor; where there are any, `height` counts no more. */
  floors: Record<string, { name: string; height: number }>;
  day: number;
  night: number | null;
  /** Limits of the 63 Hz octave, where there are any. */
  day_63hz?: number | null;
  night_63hz?: number | null;
}
export interface Surface {
  name: string;
  outline: Point[];
  kind: string;
  /** Height of the ground above the datum, m. */
  elevation?: number;
}
export interface Wall {
  name: string;
  line: Point[];
  height: number;
  kind: string;
}
export interface Building {
  name: string;
  outline: Point[];
  height: number;
}
export interface NoGo {
  reason: string;
  outline: Point[];
}
export interface Service {
  kind: string;
  line: Point[];
}
export interface Sleeve {
  name: string;
  line: Point[];
  inside_diameter: number;
  /** Pull pits along its line, m from its first point. */
  pits?: number[];
}
export interface Placed {
  name?: string;
  position: Point;
}
export interface Stub extends Placed {
  cable: string;
  rack: string | null;
  /** Pairs free to use, from 1; all of the cable's where nothing is said. */
  free_pairs: number[] | null;
  free_conductors: number | null;
}
export interface Loudspeaker {
  model: string;
  position: Point;
  height: number | null;
  bearing: number;
  pitch: number;
  tap: number | null;
  /** How it is fixed; where nothing is said, as usual for the model. */
  mount: string | null;
  line: string | null;
  pinned: boolean;
}
export interface Joint {
  position: Point;
  kind: string;
}
export interface Run {
  from: string;
  to: string;
  via: Point[];
  length: number | null;
  cable: string | null;
  /** Pair of its cable, from 1; its line's where it says none. */
  pair: number | null;
  sleeves: string[];
  /** Whether what is behind it stands in series with the loudspeaker it leaves. */
  in_series: boolean;
  fixed: boolean;
  /** Whether its cable is there already. */
  existing: boolean;
}
export interface Rack extends Placed, Owned {
  /** Mains it is on, V; the job's where it says none. */
  mains?: number | null;
  /** Rated current of one circuit of it, A; the job's where it says none. */
  circuit?: number | null;
}
export interface Line extends Owned {
  channel: string | null;
  start: string | null;
  cable: string;
  /** How its loudspeakers are fed, where it says so. */
  supply: string | null;
  /** Which pair of a cable with several it takes, from 1. */
  pair: number;
  /** Pairs of its stub's existing cable, from 1; empty where the server gives it one. */
  stub_pairs: number[];
  runs: Record<string, Run>;
}
export interface Filter {
  kind: string;
  order: number;
  corner: number;
}
export interface Channel {
  amplifier: string;
  output: number;
  /** Inputs of its amplifier that it adds, from 1. */
  inputs: number[];
  programme: string | null;
  gain: number;
  delay: number;
  polarity: string;
  high_pass: Filter | null;
  low_pass: Filter | null;
  equaliser: Record<string, { kind: string; frequency: number; gain: number; q: number }>;
  limiter: { rms: number; peak: number | null } | null;
}
export interface Source {
  name: string;
  kind: string;
  rack: string;
  signal: 'stereo' | 'mono';
  output: 'unbalanced' | 'balanced' | 'optical';
  connector: string;
}
export interface Lead {
  source: string;
  side: 'left' | 'right' | 'both';
  amplifier: string;
  input: number;
  length: number | null;
}
/** How an amplifier was left; empty text where nobody has said. */
export interface Commissioned {
  network_name: string;
  address: string;
  reached: string;
  firmware: string;
  backup_date: string;
  backup_file: string;
  password_held_by: string;
}
export interface Amplifier {
  model: string;
  rack: string;
  commissioned: Commissioned | null;
}
export interface Reading {
  line: string;
  at: string | null;
  /** Ohms, or an open line. */
  impedance: number | 'open' | null;
  frequency: number | null;
  dc: number | 'open' | null;
  leakage: number | null;
  level: number | null;
  /** The meter showed more than the value. */
  above: boolean;
}
/** A sound level where people listen, or at a neighbour. */
export interface MeasuredLevel {
  area: string | null;
  neighbour: string | null;
  floor: string | null;
  level: number | null;
  octave_63hz: number | null;
  night: boolean;
  notes: string;
}
/** A meter that was used on a visit. */
export interface Meter {
  kind: 'impedance' | 'resistance' | 'insulation' | 'level';
  name: string;
  serial: string;
  calibrated: string;
}
export interface Visit {
  date: string;
  kind: string;
  ground_temperature: number | null;
  readings: Record<string, Reading>;
  /** Neither is in what was taken along by an earlier version. */
  levels?: Record<string, MeasuredLevel>;
  meters?: Record<string, Meter>;
  photos?: Record<string, Photo>;
  notes: string;
}
/** A photo, of a thing or of a place. */
export interface Photo {
  file: string;
  at: string | null;
  /** Not in what was taken along by an earlier version. */
  position?: Point | null;
  notes: string;
}
/** Somebody to speak to on the client's side. */
export interface Contact {
  name: string;
  role: string;
  telephone: string;
  mail: string;
}
export interface Underlay {
  image: string;
  metres_per_pixel: number;
  origin: Point;
  up: number;
}

export interface JobDocument {
  job: {
    name: string;
    status?: string | null;
    reference: string;
    summary: string;
    date: string;
    units: 'metric' | 'us' | null;
    /** Sheet of paper, mains and circuit; those of the units where nothing is said. */
    paper?: string | null;
    mains?: number | null;
    circuit?: number | null;
    language?: LanguageName | null;
    crew_language?: LanguageName | null;
    currency: string;
    notes: string;
  };
  brief: {
    supply: string;
    budget: string | number | null;
    night_hours: string | null;
    night_turn_down: number;
    evening_turn_down?: number | null;
    load_share: number;
    loss_limit: number;
  };
  programmes: Record<string, { name: string; spectrum: string; crest_factor: number; supply: string | null }>;
  phases: Record<string, { name: string; first_day: string }>;
  zones: Record<string, Zone>;
  areas: Record<string, Area>;
  neighbours: Record<string, Neighbour>;
  site: {
    datum: string;
    true_north: number;
    outline: Point[] | null;
    ground: string;
    underlay: Underlay | null;
    local: {
      protection: string | null;
      coldest: number | null;
      hottest: number | null;
      salt_air: boolean;
      from_water: number | null;
      from_mains: number | null;
      cable_cover: number | null;
      slit_cover: number | null;
      paving_cover: number | null;
      frost_depth: number | null;
      longest_pull: number | null;
    };
    locating: { number: string; made: string; from: string; until: string };
  };
  client: { name: string; address: string; contacts: Record<string, Contact> };
  work: { crew: number; hours: number; daylight: string | null; first_day: string };
  surfaces: Record<string, Surface>;
  walls: Record<string, Wall>;
  buildings: Record<string, Building>;
  no_go: Record<string, NoGo>;
  services: Record<string, Service>;
  sleeves: Record<string, Sleeve>;
  passages: Record<string, Placed>;
  stubs: Record<string, Stub>;
  racks: Record<string, Rack>;
  marks: Record<string, Placed>;
  loudspeakers: Record<string, Loudspeaker>;
  joints: Record<string, Joint>;
  lines: Record<string, Line>;
  amplifiers: Record<string, Amplifier>;
  channels: Record<string, Channel>;
  sources: Record<string, Source>;
  leads: Record<string, Lead>;
  links: Record<string, { name: string; from: string; to: string }>;
  visits: Record<string, Visit>;
}

/** Every table of things with an id. */
export type Table = Exclude<keyof JobDocument, 'job' | 'client' | 'brief' | 'site' | 'work'>;

/** A thing on the plan or in a list: where it stands in the document. */
export interface Thing {
  table: Table | 'site';
  id: string;
}

export const sameThing = (a: Thing | null, b: Thing | null) => a?.table === b?.table && a?.id === b?.id;

const RUN: Omit<Run, 'from' | 'to'> = {
  via: [],
  length: null,
  cable: null,
  pair: null,
  sleeves: [],
  in_series: false,
  fixed: false,
  existing: false,
};
const LOUDSPEAKER = { height: null, bearing: 0, pitch: 0, tap: null, mount: null, line: null, pinned: false };
const LINE = { channel: null, start: null, supply: null, runs: {}, pair: 1, stub_pairs: [] };

/**
 * A document in which an edit as typed was tried, fit to be drawn: what the edit leaves to the defaults is filled in. The
 * server's own answer follows once the edit is made.
 */
export function drawable(doc: JobDocument): JobDocument {
  const each = <T>(table: Record<string, T>, fill: (value: T) => T) =>
    Object.fromEntries(Object.entries(table).map(([id, value]) => [id, fill(value)]));
  return {
    ...doc,
    loudspeakers: each(doc.loudspeakers ?? {}, (l) => ({ ...LOUDSPEAKER, ...l })),
    joints: doc.joints ?? {},
    lines: each(doc.lines ?? {}, (line) => ({
      ...LINE,
      ...line,
      runs: each(line.runs ?? {}, (run) => ({ ...RUN, ...run })),
    })),
  };
}
