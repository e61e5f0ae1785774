/** Answers to "why?" on the Cable page: lines, runs, a route and its price. */
import type { JobDocument } from '../api/document';
import type { LinesView, RouteView, RunAnswer } from '../api/shapes';
import { say } from '../words/spoken.svelte';
import { roughly } from './money';
import { runLength } from './told';
import { cutLength, db, hertz, impedance, number, wayLength, type LengthUnit } from './units';
import type { Why } from './why';

type Line = LinesView['lines'][string];

/** Rated voltage of a constant-voltage line, V; null on low impedance. */
export const ratedV = (line: Line): number | null =>
  typeof line.service === 'string' ? null : line.service.constant_voltage.rated_v;

/** A way of laying as it is spoken: `shared-trench` as "shared trench". */
export const layingWord = (laying: string): string => say(laying.replaceAll('-', ' '));

const network = () =>
  say('nodal analysis of the line at every third octave; wire resistance by IEC 60228 and ASTM B258');

export function whyLine(doc: JobDocument, view: Line): Why {
  const taps = view.loads.filter((l) => l.counted_w != null);
  const rated = ratedV(view);
  const steps = [
    rated === null
      ? say('The brief, the programme or the line says low impedance: loudspeakers without transformers.')
      : say("{rated} V is the line's own supply, or that of its programme, or the brief's: {supply}.", {
          rated,
          supply: say(doc.brief.supply),
        }),
  ];
  if (view.counted_w != null)
    steps.push(
      say('{count} taps add up to {sum}: {taps}.', {
        count: taps.length,
        sum: number(view.counted_w, 'W', 0),
        taps: taps.map((l) => `${l.load} ${l.counted_w} W`).join(', '),
      }),
    );
  steps.push(
    say(
      "Cable, transformers and loudspeakers solved together are lowest at {frequency}: {impedance} at the rack, of the frequencies its channel's filters pass, {low} to {high}.",
      {
        frequency: hertz(view.minimum.frequency_hz),
        impedance: impedance(view.minimum.impedance_ohm),
        low: hertz(view.passed_hz[0]!),
        high: hertz(view.passed_hz[1]!),
      },
    ),
  );
  return { steps, source: network() };
}

export function whyRun(r: RunAnswer, cable: string, unit: LengthUnit): Why {
  const m = (metres: number) => runLength(metres, unit);
  const stated = r.existing
    ? r.existing.length_known
      ? say('{length} of cable that was there already, as stated or measured; it is not ordered.', {
          length: m(r.electrical_m),
        })
      : say('The length of this cable, which was there already, is not known: read its loop.')
    : null;
  const steps = stated
    ? [stated]
    : r.length_stated
      ? [
          say('{length}: a person stated the length of {run}; the way drawn is {way}.', {
            length: m(r.length.order_m),
            run: r.id,
            way: m(r.length.path_m),
          }),
        ]
      : [
          say(
            '{way} along its way, {vertical} up and down at its ends, {loops} in service loops, {waste} for waste: {order} to order.',
            {
              way: m(r.length.path_m),
              vertical: m(r.length.vertical_m),
              loops: m(r.length.loops_m),
              waste: m(r.length.waste_m),
              order: m(r.length.order_m),
            },
          ),
        ];
  const piece = (p: RunAnswer['pieces'][number]) => {
    const how = p.laying ? layingWord(p.laying) : say('where cable cannot be laid');
    const laid = `${m(p.length_m)} ${how}`;
    return p.surface ? say('{laid} in {surface}', { laid, surface: p.surface }) : laid;
  };
  if (r.pieces.length) steps.push(say('On the way: {pieces}.', { pieces: r.pieces.map(piece).join(', ') }));
  if (r.current_1khz_a != null && r.loop_resistance_ohm != null)
    steps.push(
      say(
        'At 1 kHz and full drive {current} pass its {ohm} there and back ({cable}, {length}): {lost} is lost.',
        {
          current: number(r.current_1khz_a, 'A', 2),
          ohm: number(r.loop_resistance_ohm, 'ohm', 3),
          cable,
          length: m(r.electrical_m),
          lost: number(r.loss_1khz_w, 'W', 2),
        },
      ),
    );
  return {
    steps,
    source: say('{method}; service loops and waste from the price book, common practice, no source', {
      method: network(),
    }),
  };
}

export function whyLoss(doc: JobDocument, view: Line, l: Line['loads'][number]): Why {
  const rated = ratedV(view);
  return {
    steps: [
      say(
        'At 1 kHz and full drive {tag} gets {volts} and takes {watts}, by its nominal impedance as taps and ratings count.',
        {
          tag: l.load,
          volts: rated
            ? say('{volts} of {rated} V', { volts: number(l.joint_1khz_v, 'V'), rated })
            : number(l.joint_1khz_v, 'V'),
          watts: number(l.power_1khz_w, 'W'),
        },
      ),
      say(
        "{loss} is lost in the cable on the way from the amplifier's terminals, at most {limit} allowed by the brief.",
        { loss: db(l.loss_1khz_db, 2), limit: db(doc.brief.loss_limit) },
      ),
    ],
    source: say('{method}; the limit is common practice, no source', { method: network() }),
  };
}

export function whyRoute(found: RouteView, currency: string, unit: LengthUnit): Why {
  const { order_m, by_laying_m, hand_dig_m, price } = found.summary;
  return {
    steps: [
      say(
        'Every way is the cheapest over the ground as drawn: a metre costs what laying costs there, a crossing, a joint and an opening what the price book says.',
      ),
      say('{ways}; {length} of cable with ends, service loops and waste.', {
        ways: Object.entries(by_laying_m)
          .map(([how, m]) => `${wayLength(m, unit)} ${layingWord(how)}`)
          .join(', '),
        length: cutLength(order_m, unit),
      }),
      ...(hand_dig_m > 0
        ? [
            say('{length} lie beside buried services and are dug by hand.', {
              length: wayLength(hand_dig_m, unit),
            }),
          ]
        : []),
      say("Cable, laying and joints together {price} before tax, at the prices of the job's price book.", {
        price: roughly(currency, price),
      }),
    ],
    source: say(
      'shortest ways over weighted ground, lines joined where that saves (least-cost tree); prices are examples until the job brings its own',
    ),
  };
}
