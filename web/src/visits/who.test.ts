import { describe, expect, it } from 'vitest';
import type { FullVisit } from './document';
import { namesByVisit, namesIn, saidBy } from './who';

const done = (by: string) => ({ work: 'joint', at: 'L1', by });
const entry = (who: string, ...paths: string[]) => ({
  who,
  patch: paths.map((path) => ({ op: 'add', path, value: { V2: { date: '2026-05-02' } } })) as never,
});

describe('who was at a visit', () => {
  it('is whoever signed what was done, each once', () => {
    const visit = {
      done: { a: done('Ada'), b: done(''), c: done('Bea'), d: done('Ada') },
    } as unknown as FullVisit;
    expect(saidBy(namesIn(visit))).toBe(': Ada and Bea');
    expect(saidBy(namesIn({ done: {} }))).toBe('');
  });

  it('is whoever entered it, from the log, the newest first', () => {
    const log = [
      entry('Bea', '/visits/V1/readings/A-dc'),
      entry('somebody', '/visits/V1/notes'),
      entry('Cem', '/visits'),
      entry('Ada', '/visits/V1', '/lines/A/runs'),
    ];
    expect(namesByVisit(log)).toEqual({ V1: ['Ada', 'Bea'], V2: ['Cem'] });
    // A later part of the log comes behind what is known.
    expect(namesByVisit([entry('Dot', '/visits/V1/notes')], { V1: ['Ada'] })).toEqual({ V1: ['Ada', 'Dot'] });
  });
});
