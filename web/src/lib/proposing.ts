/** What a proposal says of itself while it is made, and of its designs, in the words and units of whoever asked for it. */
import type { Proposal, ProposalAnswer } from '../api/shapes';
import { roughly } from './money';
import { runLength } from './told';
import type { LengthUnit } from './units';
import { say } from '../words/spoken.svelte';

/** A sign of life: prices are absent while there is none. */
export interface Sign {
  phase: string;
  /** Its place among those that wait, while it waits. */
  place?: number;
  best_cost: number | null;
  bound: number | null;
}

/** A sign of life with what was told before it: a best price stands until another comes. */
export const goneOn = <S extends Sign>(before: S | undefined, now: S): S => ({
  ...now,
  best_cost: now.best_cost ?? before?.best_cost ?? null,
});

/** A sign of life in a sentence that says what is known and no more. */
export function signOfLife(sign: Sign | undefined, currency: string): string {
  const { best_cost, bound } = sign ?? { best_cost: null, bound: null };
  const place = sign?.place;
  const phase =
    place === undefined ? say(sign?.phase ?? 'Starting') : say('Waiting, place {place}', { place });
  if (best_cost === null) return `${phase}.`;
  const best = roughly(currency, best_cost);
  return bound === null
    ? say('{phase}: best so far {best}.', { phase, best })
    : say('{phase}: best so far {best}; its loudspeakers cost {bound} at least, whatever is chosen.', {
        phase,
        best,
        bound: roughly(currency, bound),
      });
}

/** The figures of a design by what they are, lengths in the reader's units. */
export function figuresOf(
  { figures }: Pick<Proposal, 'figures'>,
  words: ProposalAnswer['words'][number],
  unit: LengthUnit,
): Record<string, string> {
  if (unit === 'm') return words.figures;
  const lengths = { Cable: figures.cable_m, Digging: figures.digging_m };
  const told = Object.entries(lengths).map(([what, metres]) => [what, runLength(metres, unit)] as const);
  return { ...words.figures, ...Object.fromEntries(told) };
}
