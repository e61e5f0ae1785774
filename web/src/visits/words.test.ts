import { expect, it } from 'vitest';
import { EMPTY_DONE, EMPTY_READING, EMPTY_VISIT, type FullVisit } from './document';
import { enteredOf, kindOfNext } from './words';

it('until something is handed over, whoever comes builds on; afterwards they maintain', () => {
  const visits = (...kinds: string[]) => kinds.map((kind) => ({ kind }));
  expect(kindOfNext([])).toBe('building');
  expect(kindOfNext(visits('survey', 'building'))).toBe('building');
  expect(kindOfNext(visits('building', 'handover'))).toBe('maintenance');
  expect(kindOfNext(visits('handover', 'fault'))).toBe('maintenance');
});

it('tells what visits have of a thing, whether it is there or not, the oldest first', () => {
  const visit = (date: string, more: Partial<FullVisit>): FullVisit => ({
    ...EMPTY_VISIT,
    kind: 'building',
    date,
    ...more,
  });
  const tick = (at: string) => ({ ...EMPTY_DONE, work: 'placed' as const, at });
  const visits = {
    V2: visit('2026-11-30', { done: { a: tick('L3'), b: tick('L3'), c: tick('L4') } }),
    V1: visit('2026-11-29', { readings: { r: { ...EMPTY_READING, line: 'A', at: 'L3' } } }),
    V3: visit('2026-12-01', { done: { d: tick('L4') } }),
  };
  expect(enteredOf(visits, 'L3')).toEqual([
    { visit: 'V1', date: '2026-11-29', what: '1 reading' },
    { visit: 'V2', date: '2026-11-30', what: '2 ticks' },
  ]);
  expect(enteredOf(visits, 'L9')).toEqual([]);
});
