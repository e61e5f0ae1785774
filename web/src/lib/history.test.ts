import { describe, expect, it } from 'vitest';
import type { JobDocument } from '../api/document';
import { byWhom, changesOf, changeWords, placeWords, valueWords } from './history';
import type { Patch } from './pointer';

const doc = {
  areas: { a1: { name: 'Kitchen wing' } },
  loudspeakers: { L3: { model: 'stake-110-wide' } },
} as unknown as JobDocument;

describe('what an entry changed', () => {
  it('pairs each operation with the one that takes it back', () => {
    const patch: Patch = [
      { op: 'test', path: '/job/name', value: 'A' },
      { op: 'replace', path: '/loudspeakers/L3/tap', value: '20 W' },
      { op: 'add', path: '/areas/a1/outline/-', value: [1, 2] },
      { op: 'move', from: '/marks/M1', path: '/marks/M2' },
      { op: 'remove', path: '/loudspeakers/L4' },
    ];
    // As RFC 6902 operations undo each other, the last first.
    const inverse: Patch = [
      { op: 'add', path: '/loudspeakers/L4', value: { model: 'x' } },
      { op: 'remove', path: '/marks/M2' },
      { op: 'add', path: '/marks/M1', value: { name: 'Gate' } },
      { op: 'remove', path: '/areas/a1/outline/4' },
      { op: 'replace', path: '/loudspeakers/L3/tap', value: '10 W' },
    ];
    expect(changesOf(patch, inverse)).toEqual([
      { path: '/loudspeakers/L3/tap', before: '10 W', after: '20 W' },
      { path: '/areas/a1/outline/4', before: undefined, after: [1, 2] },
      { path: '/marks/M1', before: { name: 'Gate' }, after: undefined },
      { path: '/marks/M2', before: undefined, after: { name: 'Gate' } },
      { path: '/loudspeakers/L4', before: { model: 'x' }, after: undefined },
    ]);
  });

  it('tells a place that was changed twice once, and one that came back not at all', () => {
    const twice: Patch = [
      { op: 'replace', path: '/job/name', value: 'B' },
      { op: 'replace', path: '/job/name', value: 'C' },
    ];
    const back = (first: string): Patch => [
      { op: 'replace', path: '/job/name', value: 'B' },
      { op: 'replace', path: '/job/name', value: first },
    ];
    expect(changesOf(twice, back('A'))).toEqual([{ path: '/job/name', before: 'A', after: 'C' }]);
    expect(changesOf(twice, back('C'))).toEqual([]);
  });

  it('is told by the names people gave, with both values', () => {
    expect(placeWords('/areas/a1/target', doc)).toBe('Kitchen wing, level wanted');
    expect(placeWords('/brief/supply', doc)).toBe('the brief, line voltage');
    expect(placeWords('/client/address', doc)).toBe('the client, address');
    expect(placeWords('', doc)).toBe('the whole job');
    const change = { path: '/loudspeakers/L3/tap', before: '10 W', after: '20 W' };
    expect(changeWords(change, null)).toBe('L3, tap: from 10 W to 20 W');
    expect(changeWords({ path: '/areas/a1', before: { name: 'Lawn' } }, doc)).toBe(
      'Kitchen wing: taken out, was Lawn',
    );
    expect(valueWords([28.5, 22.6])).toBe('28.5, 22.6');
    expect(
      valueWords([
        [0, 0],
        [1, 1],
      ]),
    ).toBe('2 places');
    expect(valueWords('x'.repeat(200))).toHaveLength(60);
  });

  it('names everybody once', () => {
    expect(byWhom([{ who: 'Ada' }, { who: 'Ben' }, { who: 'Ada' }, { who: '' }])).toBe(
      'Ada, Ben and somebody',
    );
    expect(byWhom([])).toBe('nobody');
  });
});
