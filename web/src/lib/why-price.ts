/** Answers to "why?" for a proposed design: its price and how near to the least possible it is. */
import type { Proposal, ProposalAnswer } from '../api/shapes';
import type { Why } from './why';

export function whyPrice(
  p: Proposal,
  words: ProposalAnswer['words'][number],
  looked: NonNullable<ProposalAnswer['proposal']>,
  money: (v: number | null | undefined) => string,
): Why {
  const { price, net } = p.figures;
  const tax = price - net;
  const steps = [
    `Counted as the quotation counts: loudspeakers, amplifiers, cable, laying, joints, holes and hours at the job's prices, ${money(net)} before tax${tax > 0.5 ? ` and ${money(tax)} of tax` : ''}.`,
    ...Object.entries(words.figures)
      .filter(([what]) => what !== 'Price with tax')
      .map(([what, value]) => `${what}: ${value}.`),
  ];
  steps.push(
    `Loudspeakers with their mounting and their share of cable and amplifiers come to ${money(p.choice_cost)}. No choice among the ${looked.candidates.toLocaleString('en')} ways of using the ${looked.places.toLocaleString('en')} places looked at costs less than ${money(looked.bound)}: that is proven.`,
  );
  return {
    steps,
    source: 'the price book of the job; the bound by linear relaxation of the choice among the candidates',
  };
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
