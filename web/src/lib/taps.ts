/** The taps of a loudspeaker's transformer: those of its model, for how its line is fed. */
import type { Catalogue } from '../api/shapes';
import { say } from '../words/spoken.svelte';

type Tap = string | number;

/** Taps of a model on a supply ("70.7 V", "100 V", "25 V"), as the catalogue writes them; none at low impedance. */
export function tapsOf(catalogue: Catalogue | null, model: string, supply: string): Tap[] {
  const transformer = catalogue?.loudspeakers[model]?.transformer as
    Record<string, unknown> | null | undefined;
  const volts = Number.parseFloat(supply);
  if (Number.isNaN(volts)) return [];
  const taps = transformer?.[volts > 90 ? 'taps_100v' : volts > 60 ? 'taps_70v' : 'taps_25v'];
  return Array.isArray(taps) ? (taps as Tap[]) : [];
}

const watts = (tap: unknown) => (typeof tap === 'number' ? tap : Number.parseFloat(String(tap)));
const said = (tap: unknown) => (typeof tap === 'number' ? `${tap} W` : String(tap));

/** What there is to choose from; what stands is among it as it was typed, even where the model has no such tap. */
export function tapOptions(taps: readonly Tap[], stands: unknown): { value: string; text: string }[] {
  const none = stands === undefined || stands === null;
  const options = taps.map((tap) => {
    const same = !none && watts(tap) === watts(stands);
    return { value: same ? String(stands) : said(tap), text: said(tap) };
  });
  if (none || options.some((o) => o.value === String(stands))) return options;
  return [
    ...options,
    { value: String(stands), text: say('{tap}: not a tap of this model here', { tap: said(stands) }) },
  ];
}
