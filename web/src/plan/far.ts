/** Corners typed so far away that they cannot be meant. The server has the last word; this says it before they are drawn. */
import type { Point } from '../lib/geometry';
import { FARTHEST_M } from '../lib/schema';
import { FT_M, type LengthUnit } from '../lib/units';
import { say } from '../words/spoken.svelte';

/** Why a corner cannot lie there; `null` where it can. */
export function tooFar(corner: Point, unit: LengthUnit): string | null {
  const away_m = Math.max(...corner.map(Math.abs));
  if (away_m <= FARTHEST_M) return null;
  const whole = (m: number) => (unit === 'ft' ? `${Math.round(m / FT_M)} ft` : `${Math.round(m)} m`);
  const [away, most] = [whole(away_m), whole(FARTHEST_M)];
  return say(
    'That corner would lie {away} from the datum; at most {most} are possible. Look at the unit that was typed.',
    { away, most },
  );
}
