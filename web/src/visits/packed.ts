/** What the server sends of a job that is taken along, and how the phone keeps what a line should read. */
import { jointOf } from '../lib/place';
import type { components } from '../api/schema';
import type { JobDocument } from '../api/document';
import type { Catalogue } from '../api/shapes';
import type { Table } from './evaluate';
import type { Rules } from './rules';
import type { Expected, ExpectedLine, Hole, JudgedReading, LaidRun, Stage } from './shapes';

/** A job as the server sends it to be taken along. */
export interface VisitPack {
  format: number;
  name: string;
  revision: number;
  at: string;
  document: Record<string, unknown>;
  resolved: JobDocument;
  catalogue: Catalogue;
  runs: LaidRun[];
  expect: Record<string, OfficeLine>;
  readings: JudgedReading[];
  tables: Record<string, Table>;
  rules: Rules;
  no_tables: string | null;
  holes: Hole[];
  order: Stage[];
  order_spoken: Stage[];
  language: string;
}

type OfficeLine = components['schemas']['ExpectedLine'];

/** What a line should read, as the phone keeps it. */
export function expectedOf(l: OfficeLine): ExpectedLine {
  const reading = ({
    place,
    frequency_hz,
    sees,
    ohm,
    low_ohm,
    high_ohm,
    far_low_ohm,
    far_high_ohm,
    short_ohm,
  }: OfficeLine['readings'][number]): Expected => ({
    at: jointOf(place),
    frequency_hz,
    sees,
    ohm: ohm ?? null,
    low_ohm: low_ohm ?? null,
    high_ohm: high_ohm ?? null,
    far_low_ohm: far_low_ohm ?? null,
    far_high_ohm: far_high_ohm ?? null,
    short_ohm: short_ohm ?? null,
  });
  const stages = l.stages.map((s) => ({ joint: s.joint, readings: s.readings.map(reading) }));
  return { runs: l.runs, readings: l.readings.map(reading), stages };
}
