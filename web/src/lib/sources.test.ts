import { describe, expect, it } from 'vitest';
import type { JobDocument } from '../api/document';
import type { Catalogue } from '../api/shapes';
import { applied } from './pointer';
import { addLead, bringsWords, channelsAdding, freeInputs, inputsOf, moveLead, sourceEdit } from './sources';

const catalogue = {
  amplifiers: {
    four: { description: 'Four', inputs: { count: 2, connector: 'XLR', optical: 1 } },
    bare: { description: 'Nothing is known' },
  },
} as unknown as Catalogue;
const source = {
  name: '',
  kind: 'player',
  rack: 'R1',
  signal: 'stereo',
  output: 'unbalanced',
  connector: 'phono',
};
const doc = {
  amplifiers: {
    P0: { model: 'bare', rack: 'R1', commissioned: null },
    P1: { model: 'four', rack: 'R2', commissioned: null },
    P2: { model: 'four', rack: 'R1', commissioned: null },
  },
  channels: { C1: { amplifier: 'P2', output: 1, inputs: [1] } },
  sources: { Q1: { ...source, name: 'Bar' }, Q2: { ...source, output: 'optical', connector: 'optical' } },
  leads: { K1: { source: 'Q1', side: 'left', amplifier: 'P2', input: 1, length: null } },
} as unknown as JobDocument;
const typed = {
  sources: {
    Q1: { ...source, nominal: '-10 dBV' },
    Q2: { ...source, output: 'optical', connector: 'optical' },
  },
  leads: { K1: { source: 'Q1', side: 'left', amplifier: 'P2', input: 1 } } as Record<string, object>,
};
const made = (answer: ReturnType<typeof addLead>) => {
  if (typeof answer === 'string') throw new Error(answer);
  return applied(typed, answer.patch).leads[answer.id];
};

describe('inputs of an amplifier', () => {
  it('count on through the optical ones, and are free but for what has a lead', () => {
    expect(inputsOf(doc, catalogue, 'P2').map((i) => i.connector)).toEqual(['XLR', 'XLR', 'optical']);
    expect(inputsOf(doc, catalogue, 'P0')).toEqual([]);
    expect(freeInputs(doc, catalogue, 'P2').map((i) => i.number)).toEqual([2, 3]);
    expect(freeInputs(doc, catalogue, 'P2', 'K1').map((i) => i.number)).toEqual([1, 2, 3]);
    expect(channelsAdding(doc, 'P2', 1)).toEqual(['C1']);
    expect(bringsWords(doc, doc.leads.K1!)).toBe('left of Q1, Bar');
  });
});

describe('a new lead', () => {
  it('brings the side that has none, to a free input in the rack of its source', () => {
    expect(made(addLead(typed, doc, catalogue, 'Q1'))).toEqual({
      source: 'Q1',
      side: 'right',
      amplifier: 'P2',
      input: 2,
    });
  });
  it('of a light guide goes to an optical input and brings both sides', () => {
    expect(made(addLead(typed, doc, catalogue, 'Q2'))).toEqual({ source: 'Q2', amplifier: 'P2', input: 3 });
  });
  it('says why there is none', () => {
    expect(addLead(typed, { ...doc, amplifiers: {} }, catalogue, 'Q1')).toMatch(/there is none yet/);
    expect(addLead(typed, { ...doc, amplifiers: { P0: doc.amplifiers.P0! } }, catalogue, 'Q1')).toMatch(
      /nothing is known/,
    );
  });
  it('is taken to another amplifier with an input that is free there', () => {
    const patch = moveLead(typed, doc, catalogue, 'K1', 'P1');
    if (typeof patch === 'string') throw new Error(patch);
    expect(applied(typed, patch).leads.K1).toEqual({ source: 'Q1', side: 'left', amplifier: 'P1', input: 1 });
    expect(moveLead(typed, doc, catalogue, 'K1', 'P0')).toMatch(/P0 has no input/);
  });
});

describe('what belongs together changes together', () => {
  const after = (field: 'output' | 'connector' | 'signal', value: string, id = 'Q1') => {
    const now = applied(typed, sourceEdit(typed, doc, id, field, value));
    return {
      source: now.sources[id as 'Q1'] as Record<string, unknown>,
      lead: now.leads.K1 as Record<string, unknown>,
    };
  };
  it('a light guide has an optical connector, no voltage, and brings both sides', () => {
    const { source: s, lead } = after('output', 'optical');
    expect([s.output, s.connector, s.nominal, lead.side]).toEqual([
      'optical',
      'optical',
      undefined,
      undefined,
    ]);
    expect(after('connector', 'optical').source.output).toBe('optical');
  });
  it('a balanced output has three contacts', () => {
    expect(after('output', 'balanced').source.connector).toBe('XLR');
    expect(after('connector', 'phono', 'Q2').source.output).toBe('unbalanced');
    expect(after('connector', 'XLR', 'Q2').source.output).toBe('balanced');
  });
  it('one signal has no sides, and gets them back', () => {
    expect(after('signal', 'mono').lead.side).toBeUndefined();
    const mono = { ...doc, sources: { Q1: { ...doc.sources.Q1!, signal: 'mono' as const } } };
    const now = applied(typed, sourceEdit(typed, mono as JobDocument, 'Q1', 'signal', 'stereo'));
    expect((now.leads.K1 as { side: string }).side).toBe('left');
  });
});
