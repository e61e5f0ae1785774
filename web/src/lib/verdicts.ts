/** Where it is as loud as is wanted, and where it is not: one verdict a place, one colour and pattern a verdict. */
import type { Area } from '../api/document';
import { inside, type Point } from './geometry';
import type { Ground, Rgb } from './palette';

/** Where no area asks for a level there is no verdict. */
export type Verdict = 'within' | 'below' | 'above';
export const VERDICTS: readonly Verdict[] = ['above', 'within', 'below'];

export const VERDICT_WORDS: Record<Verdict, string> = {
  above: 'louder than wanted',
  within: 'as loud as wanted',
  below: 'quieter than wanted',
};

/** Whether a level is as an area wants it. */
export function verdictOf(level_db: number, area: Pick<Area, 'target' | 'within'>): Verdict {
  if (level_db > area.target + area.within) return 'above';
  return level_db < area.target - area.within ? 'below' : 'within';
}

/** The area that counts at a place; of several one over another the smallest, as a hand would mean it. */
export function areaAt<A extends Pick<Area, 'outline'>>(smallestFirst: readonly A[], at: Point): A | null {
  return smallestFirst.find((a) => inside(at, a.outline)) ?? null;
}

/** Field and stroke of each verdict: apart in lightness as well as in hue (our own choice, tried on dichromats). */
const PAINT: Record<Ground, Record<Verdict, { field: Rgb; stroke: Rgb }>> = {
  pale: {
    above: { field: [196, 106, 74], stroke: [122, 42, 20] },
    within: { field: [214, 226, 186], stroke: [214, 226, 186] },
    below: { field: [120, 158, 184], stroke: [52, 92, 122] },
  },
  dark: {
    above: { field: [232, 150, 112], stroke: [142, 66, 36] },
    within: { field: [70, 92, 48], stroke: [70, 92, 48] },
    below: { field: [66, 104, 134], stroke: [150, 190, 218] },
  },
};

/** Picture points from one stroke of the pattern to the next. */
export const STROKES_EVERY = 6;

/** The colour of a verdict at a picture point: strokes rise where it is too loud and fall where it is too quiet. */
export function verdictColour(verdict: Verdict, ground: Ground, x: number, y: number): Rgb {
  const { field, stroke } = PAINT[ground][verdict];
  if (verdict === 'within') return field;
  const along = verdict === 'above' ? x + y : x - y;
  return ((along % STROKES_EVERY) + STROKES_EVERY) % STROKES_EVERY < 2 ? stroke : field;
}
