/** What a cable is called: by the catalogue, or in feet as the trade there says it, "14/2 direct burial", as papers have it. */
import type { Catalogue } from '../api/shapes';
import { say } from '../words/spoken.svelte';
import type { LengthUnit } from './units';

/** The American wire gauge of a cross-section, `null` where it is none (ASTM B258: 0.127 mm times 92 to the (36 - n)/39). */
function gaugeOf(mm2: number): number | null {
  const diameter = Math.sqrt((4 * mm2) / Math.PI);
  const gauge = 36 - (39 * Math.log(diameter / 0.127)) / Math.log(92);
  const whole = Math.round(gauge);
  // A gauge is 26 % of area from the next; within a hundredth of the area it is one.
  return whole > 0 && whole <= 40 && Math.abs(gauge - whole) < 0.04 ? whole : null;
}

export function cableName(
  catalogue: Pick<Catalogue, 'cables'> | null | undefined,
  id: string,
  unit: LengthUnit,
): string {
  const cable = catalogue?.cables[id];
  if (!cable) return id;
  const { conductor, conductors, ratings } = cable as {
    conductor?: unknown;
    conductors?: unknown;
    ratings?: unknown;
  };
  const gauge = unit === 'ft' && typeof conductor === 'number' ? gaugeOf(conductor) : null;
  if (gauge === null || typeof conductors !== 'number') return cable.description;
  const made = Array.isArray(ratings) ? ratings : [];
  const laid = made.includes('burial')
    ? say('direct burial')
    : made.includes('conduit')
      ? say('for conduit')
      : say('cable');
  return `${gauge}/${conductors} ${laid}`;
}
