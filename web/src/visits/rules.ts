/**
 * The numbers of the rules of readings, as the server sent them with what was taken along. They are the engine's own; this
 * app has none. Every one is described, with its unit and source, where its type is (docs/schema/openapi.json).
 */
import type { components } from '../api/schema';
import type { Pack } from './shapes';

export type Rules = components['schemas']['ReadingRules'];

/** The form of pack this app understands. A pack of another one is kept and shown, and nothing is judged by it. */
export const FORMAT = 5;

/** The rules of a pack; `null` where it was taken along by another version of the app: it has to be taken along again. */
export const rulesOf = (pack: Pack | null): Rules | null =>
  pack?.format === FORMAT ? (pack.rules ?? null) : null;

/** Whether a pack was taken along by an earlier version of the app: taking it along again helps. */
export const isEarlier = (pack: Pack): boolean => (pack.format ?? 1) < FORMAT;
