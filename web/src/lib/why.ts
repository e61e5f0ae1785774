/** Answers to "why?": how a figure came about, with the numbers, and by which source. */
import type { Area, JobDocument } from '../api/document';
import type { AreaFigures } from '../api/live';
import type { BassView, ProcessingView } from '../api/shapes';
import { db, dba, length, percent } from './units';

export interface Why {
  /** What it is about, where several stand together. */
  about?: string;
  steps: string[];
  source: string;
}

const ear = (a: Area) => a.ear_height ?? (a.listeners === 'seated' ? 1.2 : 1.6);
const FIELD =
  'spreading, air (ISO 9613-1), ground reflection (Chien and Soroka 1975 with Delany and Bazley 1970), walls as mirrors, screening (Kurze and Anderson 1971); A-weighting by IEC 61672-1';

/** How the levels of an area come about, shared by its figures. */
function field(doc: JobDocument, a: Area): string[] {
  return [
    `Points all over the area, at ears ${length(ear(a), 'm')} above the ground (${a.listeners}).`,
    `At each point every one of the ${Object.keys(doc.loudspeakers).length} loudspeakers is added up over its paths: direct, off the ground, off walls, round and over obstacles. The voltage each gets comes from the lines on the Cable page, the programme from the Brief.`,
  ];
}

export const whyMean = (doc: JobDocument, a: Area, f: AreaFigures): Why => ({
  steps: [
    ...field(doc, a),
    `The mean over all points is ${dba(f.mean_dba)}; ${dba(a.target)} is wanted, so it is ${db(f.mean_dba - a.target)} from the target.`,
  ],
  source: FIELD,
});

export const whySpread = (doc: JobDocument, a: Area, f: AreaFigures): Why => ({
  steps: [
    ...field(doc, a),
    `One tenth of the points lie below ${dba(f.p10_dba)}, one tenth above ${dba(f.p90_dba)}: the spread is ${db(f.p90_dba - f.p10_dba)}.`,
  ],
  source: FIELD,
});

export const whyShare = (doc: JobDocument, a: Area, f: AreaFigures): Why => ({
  steps: [
    ...field(doc, a),
    `Counted are the points between ${dba(a.target - a.within)} and ${dba(a.target + a.within)}: ${percent(f.share_within)} of them.`,
  ],
  source: FIELD,
});

export const whyBass = (doc: JobDocument, a: Area, f: AreaFigures): Why => ({
  steps: [
    ...field(doc, a),
    `Octaves 31.5, 63 and 125 Hz together against the octaves 500, 1000 and 2000 Hz, averaged over the area: ${db(f.bass_over_mid_db)}.`,
    a.bass === null ? 'The brief asks for no bass level here.' : `${db(a.bass)} is wanted.`,
  ],
  source: `${FIELD}; sources on one programme add as waves at low frequency`,
});

const NEIGHBOURS = 'ISO 9613-2:1996 as ISO/TR 17534-3:2015 settles it; uncertainty from its Table 5';

/** The hours of the night, where the brief says them. */
const hours = (night_hours: string | null) => (night_hours ? `, ${night_hours}` : '');

export const whyMargin = (
  limit_dba: number,
  margin_db: number,
  night: boolean,
  turn_down_db: number,
  night_hours: string | null,
  /** Height it is judged at; none where its floors are judged each on its own. */
  height_m: number | null,
): Why => ({
  steps: [
    height_m === null
      ? `At the worst point of the worst of the neighbour's floors, wind towards it.`
      : `At the worst point of the neighbour's line, ${length(height_m, 'm')} above the ground, wind towards it.`,
    night
      ? `The system is turned down by ${db(turn_down_db)} for the night${hours(night_hours)}, as the brief says.`
      : 'The system as set for the day.',
    `The limit is ${dba(limit_dba)}, the level ${dba(limit_dba - margin_db)}: ${db(margin_db)} of margin, give or take 3 dB.`,
  ],
  source: NEIGHBOURS,
});

export const whyTuned = (a: ProcessingView['areas'][string]): Why => ({
  steps: [
    `With the settings that stand the mean over the area is ${dba(a.before.mean_dba)}, with those worked out ${dba(a.after.mean_dba)}; ${dba(a.target_dba)} is wanted.`,
    `Uneven is the RMS deviation of the area's mean response from the programme's spectrum, third octave by third octave: ${db(a.uneven_before_db)} now, ${db(a.uneven_after_db)} with it.`,
    'Both are predicted the same way, point by point over the area, with the filters, gains and delays set into every loudspeaker.',
  ],
  source: `${FIELD}; gains by bounded least squares on the areas' levels`,
});

export const whyNeighbourTuned = (
  n: ProcessingView['neighbours'][number],
  turn_down_db: number,
  night_hours: string | null,
): Why => {
  const level = n.quantity === 'octave63_hz' ? db : dba;
  return {
    steps: [
      `With the filters and gains worked out, at the worst point of the neighbour's line, wind towards it.`,
      n.by_night
        ? `The system is turned down by ${db(turn_down_db)} for the night${hours(night_hours)}, as the brief says; of day and night this limit is the nearer.`
        : 'The system as set for the day; of day and night this limit is the nearer.',
      `The limit is ${level(n.limit_db)}, the level ${level(n.level_db)}: ${db(n.limit_db - n.level_db)} of margin, give or take 3 dB.`,
    ],
    source: NEIGHBOURS,
  };
};

export const whyBassMap = (area: string, b: BassView['areas'][string]): Why => ({
  steps: [
    `Third octaves 25 to 160 Hz at points all over ${area}, each subwoofer with its level, delay and polarity.`,
    `Below the frequency at which sound stays in step they add as waves: where one arrives half a wave later than the other, they cancel. The mean over the area is ${db(b.level_db)}, and from place to place the bands deviate by ${db(b.deviation_db)} on average.`,
    'A null is a place that is quieter with all subwoofers than with the louder one alone.',
    'Evener settings are found by trying polarity and delay of every subwoofer.',
  ],
  source: FIELD,
});
