/** Answers to "why?" for a proposed design: its price and how near to the least possible it is. */
import type { Proposal, ProposalAnswer } from '../api/shapes';
import { exactly, roughly } from './money';
import type { Why } from './why';
import { say } from '../words/spoken.svelte';

/** Which of the figures of a design is its price. */
export const PRICE = 'Price with tax';

/** What no choice can be below, behind what was chosen; nothing where that is not known. */
function proven({ bound, candidates, places, currency }: NonNullable<ProposalAnswer['proposal']>): string {
  if (bound == null) return '';
  const least = say(
    'No choice among the {ways} ways of using the {places} places looked at, at the gains looked at, costs less than {price}: that is proven.',
    {
      ways: candidates.toLocaleString('en'),
      places: places.toLocaleString('en'),
      price: roughly(currency, bound),
    },
  );
  return ` ${least}`;
}

export function whyPrice(
  p: Proposal,
  figures: Record<string, string>,
  looked: NonNullable<ProposalAnswer['proposal']>,
): Why {
  const { net, tax, rounding } = p.figures;
  const money = (amount: number) => exactly(looked.currency, amount);
  const steps = [
    tax > 0.005
      ? say(
          "Counted as the quotation counts: loudspeakers, amplifiers, cable, laying, joints, holes and hours at the job's prices, as they are written into the job: {net} before tax and {tax} of tax.",
          { net: money(net), tax: money(tax) },
        )
      : say(
          "Counted as the quotation counts: loudspeakers, amplifiers, cable, laying, joints, holes and hours at the job's prices, as they are written into the job: {net} before tax.",
          { net: money(net) },
        ),
    ...(Math.abs(rounding) > 0.0005
      ? [say('Rounding to the smallest amount paid comes to {rounding}.', { rounding: money(rounding) })]
      : []),
    ...Object.entries(figures)
      .filter(([what]) => what !== PRICE)
      .map(([what, value]) => `${say(what)}: ${value}.`),
    say('Loudspeakers with their mounting and their share of cable and amplifiers come to about {price}.', {
      price: roughly(looked.currency, p.choice_cost),
    }) + proven(looked),
  ];
  return {
    steps,
    source: say(
      'the price book of the job; the bound by linear relaxation of the choice among the candidates',
    ),
  };
}

/** How far a design is from the least that is proven possible, in a sentence; `null` where nothing is proven. */
export function nearLeast(p: Pick<Proposal, 'choice_cost'>, bound: number | null | undefined): string | null {
  if (bound == null || bound <= 0) return null;
  const over = Math.ceil(100 * (p.choice_cost / bound - 1) - 1e-6);
  return over <= 0
    ? say(
        'Its loudspeakers, with their share of cable and amplifiers, cost the least possible: that is proven.',
      )
    : say(
        'Its loudspeakers, with their share of cable and amplifiers, cost at most {over} % more than the least possible.',
        { over },
      );
}

export function whyProposed(label: string, value: string): Why {
  return {
    steps: [
      `${label}: ${value}.`,
      say(
        'Measured on the finished design: routed, wired, its processing set, and predicted by the same engines as the Sound, Cable and Papers pages.',
      ),
    ],
    source: say('accept it and ask each figure there for its own working'),
  };
}
