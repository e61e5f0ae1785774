/** Answers to "why?" for a proposed design: its price and how near to the least possible it is. */
import type { Proposal, ProposalAnswer } from '../api/shapes';
import { exactly, roughly } from './money';
import type { Why } from './why';

export function whyPrice(
  p: Proposal,
  figures: Record<string, string>,
  looked: NonNullable<ProposalAnswer['proposal']>,
): Why {
  const { price, net } = p.figures;
  const tax = price - net;
  const money = (amount: number) => exactly(looked.currency, amount);
  const steps = [
    `Counted as the quotation counts: loudspeakers, amplifiers, cable, laying, joints, holes and hours at the job's prices, as they are written into the job: ${money(net)} before tax${tax > 0.005 ? ` and ${money(tax)} of tax` : ''}.`,
    ...Object.entries(figures)
      .filter(([what]) => what !== 'Price with tax')
      .map(([what, value]) => `${what}: ${value}.`),
  ];
  const chosen = `Loudspeakers with their mounting and their share of cable and amplifiers come to about ${roughly(looked.currency, p.choice_cost)}.`;
  const { bound } = looked;
  steps.push(
    bound == null
      ? chosen
      : `${chosen} No choice among the ${looked.candidates.toLocaleString('en')} ways of using the ${looked.places.toLocaleString('en')} places looked at, at the gains looked at, costs less than ${roughly(looked.currency, bound)}: that is proven.`,
  );
  return {
    steps,
    source: 'the price book of the job; the bound by linear relaxation of the choice among the candidates',
  };
}

/** How far a design is from the least that is proven possible, in a sentence; `null` where nothing is proven. */
export function nearLeast(p: Pick<Proposal, 'choice_cost'>, bound: number | null | undefined): string | null {
  if (bound == null || bound <= 0) return null;
  const over = Math.ceil(100 * (p.choice_cost / bound - 1) - 1e-6);
  const what = 'Its loudspeakers, with their share of cable and amplifiers, cost';
  return over <= 0
    ? `${what} the least possible: that is proven.`
    : `${what} at most ${over} % more than the least possible.`;
}

export function whyProposed(label: string, value: string): Why {
  return {
    steps: [
      `${label}: ${value}.`,
      'Measured on the finished design: routed, wired, its processing set, and predicted by the same engines as the Sound, Cable and Papers pages.',
    ],
    source: 'accept it and ask each figure there for its own working',
  };
}
