/** Steps a hand draws and moves in, in the person's units: what is drawn at a round figure reads as one. */
import { FT_M, type LengthUnit } from '../lib/units';

/** A tenth of a metre, or a quarter of a foot. */
export const gridM = (unit: LengthUnit) => (unit === 'ft' ? FT_M / 4 : 0.1);

/** How far an arrow key takes the cross hair. */
export const strideM = (unit: LengthUnit) => (unit === 'ft' ? FT_M : 0.5);

/** The nearest multiple of a step. */
export const toStep = (u: number, step: number) => Math.round(u / step) * step;
