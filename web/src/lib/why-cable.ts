/** Answers to "why?" on the Cable page: lines, runs, a route and its price. */
import type { JobDocument } from '../api/document';
import type { LinesView, RouteView, RunAnswer } from '../api/shapes';
import { roughly } from './money';
import { runLength } from './told';
import { cutLength, db, hertz, impedance, number, wayLength, type LengthUnit } from './units';
import type { Why } from './why';

type Line = LinesView['lines'][string];

/** Rated voltage of a constant-voltage line, V; null on low impedance. */
export const ratedV = (line: Line): number | null =>
  typeof line.service === 'string' ? null : line.service.constant_voltage.rated_v;

/** A way of laying as it is spoken: `shared-trench` as "shared trench". */
export const layingWord = (laying: string): string => laying.replaceAll('-', ' ');

const NETWORK =
  'nodal analysis of the line at every third octave; wire resistance by IEC 60228 and ASTM B258';

export function whyLine(doc: JobDocument, view: Line): Why {
  const taps = view.loads.filter((l) => l.counted_w != null);
  const rated = ratedV(view);
  const steps = [
    rated === null
      ? `The brief, the programme or the line says low impedance: loudspeakers without transformers.`
      : `${rated} V is the line's own supply, or that of its programme, or the brief's: ${doc.brief.supply}.`,
  ];
  if (view.counted_w != null)
    steps.push(
      `${taps.length} taps add up to ${number(view.counted_w, 'W', 0)}: ${taps.map((l) => `${l.load} ${l.counted_w} W`).join(', ')}.`,
    );
  steps.push(
    `Cable, transformers and loudspeakers solved together are lowest at ${hertz(view.minimum.frequency_hz)}: ${impedance(view.minimum.impedance_ohm)} at the rack, of the frequencies its channel's filters pass, ${hertz(view.passed_hz[0]!)} to ${hertz(view.passed_hz[1]!)}.`,
  );
  return { steps, source: NETWORK };
}

export function whyRun(r: RunAnswer, cable: string, unit: LengthUnit): Why {
  const m = (metres: number) => runLength(metres, unit);
  const stated = r.existing
    ? r.existing.length_known
      ? `${m(r.electrical_m)} of cable that was there already, as stated or measured; it is not ordered.`
      : `The length of this cable, which was there already, is not known: read its loop.`
    : null;
  const steps = stated
    ? [stated]
    : r.length_stated
      ? [
          `${m(r.length.order_m)}: a person stated the length of ${r.id}; the way drawn is ${m(r.length.path_m)}.`,
        ]
      : [
          `${m(r.length.path_m)} along its way, ${m(r.length.vertical_m)} up and down at its ends, ${m(r.length.loops_m)} in service loops, ${m(r.length.waste_m)} for waste: ${m(r.length.order_m)} to order.`,
        ];
  if (r.pieces.length)
    steps.push(
      `On the way: ${r.pieces
        .map(
          (p) =>
            `${m(p.length_m)} ${p.laying ?? 'where cable cannot be laid'}${p.surface ? ` in ${p.surface}` : ''}`,
        )
        .join(', ')}.`,
    );
  if (r.current_1khz_a != null && r.loop_resistance_ohm != null)
    steps.push(
      `At 1 kHz and full drive ${number(r.current_1khz_a, 'A', 2)} pass its ${number(r.loop_resistance_ohm, 'ohm', 3)} there and back (${cable}, ${m(r.electrical_m)}): ${number(r.loss_1khz_w, 'W', 2)} is lost.`,
    );
  return {
    steps,
    source: `${NETWORK}; service loops and waste from the price book, common practice, no source`,
  };
}

export function whyLoss(doc: JobDocument, view: Line, l: Line['loads'][number]): Why {
  const rated = ratedV(view);
  return {
    steps: [
      `At 1 kHz and full drive ${l.load} gets ${number(l.joint_1khz_v, 'V')}${rated ? ` of ${rated} V` : ''} and takes ${number(l.power_1khz_w, 'W')}, by its nominal impedance as taps and ratings count.`,
      `${db(l.loss_1khz_db, 2)} is lost in the cable on the way from the amplifier's terminals, at most ${db(doc.brief.loss_limit)} allowed by the brief.`,
    ],
    source: `${NETWORK}; the limit is common practice, no source`,
  };
}

export function whyRoute(found: RouteView, currency: string, unit: LengthUnit): Why {
  const { order_m, by_laying_m, hand_dig_m, price } = found.summary;
  return {
    steps: [
      `Every way is the cheapest over the ground as drawn: a metre costs what laying costs there, a crossing, a joint and an opening what the price book says.`,
      `${Object.entries(by_laying_m)
        .map(([how, m]) => `${wayLength(m, unit)} ${layingWord(how)}`)
        .join(', ')}; ${cutLength(order_m, unit)} of cable with ends, service loops and waste.`,
      ...(hand_dig_m > 0
        ? [`${wayLength(hand_dig_m, unit)} lie beside buried services and are dug by hand.`]
        : []),
      `Cable, laying and joints together ${roughly(currency, price)} before tax, at the prices of the job's price book.`,
    ],
    source:
      'shortest ways over weighted ground, lines joined where that saves (least-cost tree); prices are examples until the job brings its own',
  };
}
