/** How the gain of a channel and its noise came about, in the server's own figures. */
import type { GainView } from '../api/shapes';
import { db, number } from './units';
import type { Why } from './why';
import { say } from '../words/spoken.svelte';

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
      say(
        'Full scale is {full}, a sine; the design plays at {wanted}, {level}: {below} re full scale, so that the peaks of the programme stay below it.',
        {
          full: volts(gain.full_output_v),
          wanted: volts(gain.wanted_v),
          level: dbu(gain.wanted_dbu),
          below: db(below_db),
        },
      ),
      ...(gain.most_output_v < gain.full_output_v
        ? [
            say(
              "Into what hangs on it the output gives {most} at most: its peaks are those the programme's are held against.",
              { most: volts(gain.most_output_v) },
            ),
          ]
        : []),
      ...gain.sources.map((s) =>
        say(
          '{source} drives the output to {level} re full scale while the gain is 0 dB, all its inputs added: it needs {below} less {level}, {gain}.',
          {
            source: s.source,
            level: db(s.level_db),
            below: db(below_db),
            gain: db(s.needed_gain_db),
          },
        ),
      ),
      ...(gain.sources.length > 1
        ? [
            say('The weakest source decides: {gain}. The others are turned down to be as loud.', {
              gain: db(gain.gain_db),
            }),
          ]
        : []),
    ],
    source: say('definitions of dBu and full scale; usual levels of sources are common practice, no source'),
  };
}

export function whyNoise(gain: GainView, quiet_dba: number): Why {
  const known = [
    gain.source_noise_v == null ? null : say('of the sources {noise}', { noise: volts(gain.source_noise_v) }),
    gain.amplifier_noise_v == null
      ? null
      : say('of the amplifier {noise}', { noise: volts(gain.amplifier_noise_v) }),
  ].filter((k) => k !== null);
  return {
    steps: [
      say('Noise at the output, A-weighted: {known}. Noises add by energy.', { known: known.join(', ') }),
      say(
        'At the nearest listener that is {noise}, by the level full output makes there; the garden on a quiet night has {quiet}.',
        { noise: number(gain.noise_dba, 'dBA'), quiet: number(quiet_dba, 'dBA') },
      ),
    ],
    source: say('energy sum; inverse square law from the loudspeaker to the nearest listener'),
  };
}
