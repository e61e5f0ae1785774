/** How the gain of a channel and its noise came about, in the server's own figures. */
import type { GainView } from '../api/shapes';
import { db, number } from './units';
import type { Why } from './why';

const SOURCE = 'definitions of dBu and full scale; usual levels of sources are common practice, no source';
/** "+4.0 dBu", or nothing for light. */
export const dbu = (value: number | null | undefined) =>
  value == null ? '–' : `${value >= 0 ? '+' : ''}${value.toFixed(1)} dBu`;
/** A voltage with three meaningful digits: "316 mV", "1.23 V", "70.7 V". */
export function volts(value: number | null | undefined): string {
  if (value == null) return '–';
  if (value < 1e-3) return `${+(1e6 * value).toPrecision(3)} µV`;
  return value < 1 ? `${+(1e3 * value).toPrecision(3)} mV` : `${+value.toPrecision(3)} V`;
}

export function whyGain(gain: GainView): Why {
  const below_db = 20 * Math.log10(gain.wanted_v / gain.full_output_v);
  return {
    steps: [
      `Full scale is ${volts(gain.full_output_v)}, a sine; the design plays at ${volts(gain.wanted_v)}, ${dbu(gain.wanted_dbu)}: ${db(below_db)} re full scale, so that the peaks of the programme stay below it.`,
      ...(gain.most_output_v < gain.full_output_v
        ? [
            `Into what hangs on it the output gives ${volts(gain.most_output_v)} at most: its peaks are those the programme's are held against.`,
          ]
        : []),
      ...gain.sources.map(
        (s) =>
          `${s.source} drives the output to ${db(s.level_db)} re full scale while the gain is 0 dB, all its inputs added: it needs ${db(below_db)} less ${db(s.level_db)}, ${db(s.needed_gain_db)}.`,
      ),
      ...(gain.sources.length > 1
        ? [`The weakest source decides: ${db(gain.gain_db)}. The others are turned down to be as loud.`]
        : []),
    ],
    source: SOURCE,
  };
}

export function whyNoise(gain: GainView, quiet_dba: number): Why {
  const known = [
    gain.source_noise_v == null ? null : `of the sources ${volts(gain.source_noise_v)}`,
    gain.amplifier_noise_v == null ? null : `of the amplifier ${volts(gain.amplifier_noise_v)}`,
  ].filter((k) => k !== null);
  return {
    steps: [
      `Noise at the output, A-weighted: ${known.join(', ')}. Noises add by energy.`,
      `At the nearest listener that is ${number(gain.noise_dba, 'dBA')}, by the level full output makes there; the garden on a quiet night has ${number(quiet_dba, 'dBA')}.`,
    ],
    source: 'energy sum; inverse square law from the loudspeaker to the nearest listener',
  };
}
