/** Answers to "why?": how a figure came about, with the numbers, and by which source. */
import type { Area, JobDocument } from '../api/document';
import type { AreaFigures } from '../api/live';
import type { BassView, ProcessingView } from '../api/shapes';
import { db, dba, length, percent } from './units';
import { say } from '../words/spoken.svelte';

export interface Why {
  /** What it is about, where several stand together. */
  about?: string;
  steps: string[];
  source: string;
}

const ear = (a: Area) => a.ear_height ?? (a.listeners === 'seated' ? 1.2 : 1.6);
const fieldBy = () =>
  say(
    'spreading, air (ISO 9613-1), ground reflection (Chien and Soroka 1975 with Delany and Bazley 1970), walls as mirrors, screening (Kurze and Anderson 1971); A-weighting by IEC 61672-1',
  );

/** How the levels of an area come about, shared by its figures. */
function field(doc: JobDocument, a: Area): string[] {
  return [
    say('Points all over the area, at ears {height} above the ground ({listeners}).', {
      height: length(ear(a), 'm'),
      listeners: say(a.listeners),
    }),
    say(
      'At each point every one of the {count} loudspeakers is added up over its paths: direct, off the ground, off walls, round and over obstacles. The voltage each gets comes from the lines on the Cable page, the programme from the Brief.',
      { count: Object.keys(doc.loudspeakers).length },
    ),
  ];
}

export const whyMean = (doc: JobDocument, a: Area, f: AreaFigures): Why => ({
  steps: [
    ...field(doc, a),
    say('The mean over all points is {mean}; {wanted} is wanted, so it is {off} from the target.', {
      mean: dba(f.mean_dba),
      wanted: dba(a.target),
      off: db(f.mean_dba - a.target),
    }),
  ],
  source: fieldBy(),
});

export const whySpread = (doc: JobDocument, a: Area, f: AreaFigures): Why => ({
  steps: [
    ...field(doc, a),
    say('One tenth of the points lie below {low}, one tenth above {high}: the spread is {spread}.', {
      low: dba(f.p10_dba),
      high: dba(f.p90_dba),
      spread: db(f.p90_dba - f.p10_dba),
    }),
  ],
  source: fieldBy(),
});

export const whyShare = (doc: JobDocument, a: Area, f: AreaFigures): Why => ({
  steps: [
    ...field(doc, a),
    say('Counted are the points between {low} and {high}: {share} of them.', {
      low: dba(a.target - a.within),
      high: dba(a.target + a.within),
      share: percent(f.share_within),
    }),
  ],
  source: fieldBy(),
});

export const whyBass = (doc: JobDocument, a: Area, f: AreaFigures): Why => ({
  steps: [
    ...field(doc, a),
    say(
      'Octaves 31.5, 63 and 125 Hz together against the octaves 500, 1000 and 2000 Hz, averaged over the area: {level}.',
      { level: db(f.bass_over_mid_db) },
    ),
    a.bass === null
      ? say('The brief asks for no bass level here.')
      : say('{level} is wanted.', { level: db(a.bass) }),
  ],
  source: say('{method}; sources on one programme add as waves at low frequency', { method: fieldBy() }),
});

const neighboursBy = () =>
  say('ISO 9613-2:1996 as ISO/TR 17534-3:2015 settles it; uncertainty from its Table 5');

const marginLeft = (limit: string, level: string, margin_db: number) =>
  say('The limit is {limit}, the level {level}: {margin} of margin, give or take 3 dB.', {
    limit,
    level,
    margin: db(margin_db),
  });

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
      ? say("At the worst point of the worst of the neighbour's floors, wind towards it.")
      : say("At the worst point of the neighbour's line, {height} above the ground, wind towards it.", {
          height: length(height_m, 'm'),
        }),
    night
      ? say('The system is turned down by {level} for the night{hours}, as the brief says.', {
          level: db(turn_down_db),
          hours: hours(night_hours),
        })
      : say('The system as set for the day.'),
    marginLeft(dba(limit_dba), dba(limit_dba - margin_db), margin_db),
  ],
  source: neighboursBy(),
});

export const whyTuned = (a: ProcessingView['areas'][string]): Why => ({
  steps: [
    say(
      'With the settings that stand the mean over the area is {before}, with those worked out {after}; {wanted} is wanted.',
      { before: dba(a.before.mean_dba), after: dba(a.after.mean_dba), wanted: dba(a.target_dba) },
    ),
    say(
      "Uneven is the RMS deviation of the area's mean response from the programme's spectrum, third octave by third octave: {before} now, {after} with it.",
      { before: db(a.uneven_before_db), after: db(a.uneven_after_db) },
    ),
    say(
      'Both are predicted the same way, point by point over the area, with the filters, gains and delays set into every loudspeaker.',
    ),
  ],
  source: say("{method}; gains by bounded least squares on the areas' levels", { method: fieldBy() }),
});

export const whyNeighbourTuned = (
  n: ProcessingView['neighbours'][number],
  turn_down_db: number,
  night_hours: string | null,
): Why => {
  const level = n.quantity === 'octave63_hz' ? db : dba;
  return {
    steps: [
      say(
        "With the filters and gains worked out, at the worst point of the neighbour's line, wind towards it.",
      ),
      n.by_night
        ? say(
            'The system is turned down by {level} for the night{hours}, as the brief says; of day and night this limit is the nearer.',
            { level: db(turn_down_db), hours: hours(night_hours) },
          )
        : say('The system as set for the day; of day and night this limit is the nearer.'),
      marginLeft(level(n.limit_db), level(n.level_db), n.limit_db - n.level_db),
    ],
    source: neighboursBy(),
  };
};

export const whyBassMap = (area: string, b: BassView['areas'][string]): Why => ({
  steps: [
    say(
      'Third octaves 25 to 160 Hz at points all over {area}, each subwoofer with its level, delay and polarity.',
      {
        area,
      },
    ),
    say(
      'Below the frequency at which sound stays in step they add as waves: where one arrives half a wave later than the other, they cancel. The mean over the area is {mean}, and from place to place the bands deviate by {deviation} on average.',
      { mean: db(b.level_db), deviation: db(b.deviation_db) },
    ),
    say('A null is a place that is quieter with all subwoofers than with the louder one alone.'),
    say('Evener settings are found by trying polarity and delay of every subwoofer.'),
  ],
  source: fieldBy(),
});
