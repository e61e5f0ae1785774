import { describe, expect, it } from 'vitest';
import type { JobDocument, MeasuredLevel } from '../../api/document';
import { bareLevel, placesOf, placeWords, spotOf, verdictsOf } from './levels';

const doc = {
  areas: { A1: { name: 'Terrace' }, A2: { name: '' } },
  neighbours: {
    N1: { name: 'House', floors: { g: { name: 'ground' }, u: { name: '' } } },
    N2: { name: 'Barn' },
  },
} as unknown as JobDocument;

describe('places levels are measured at', () => {
  it('are the areas, the neighbours and their floors, each once', () => {
    const places = placesOf(doc);
    expect(places.map((p) => p.text)).toEqual(['Terrace', 'A2', 'House, ground', 'House, u', 'Barn']);
    expect(new Set(places.map((p) => p.key)).size).toBe(5);
    expect(spotOf(places[2]!)).toEqual({ neighbour: 'N1', floor: 'g' });
    expect(spotOf(places[0]!)).toEqual({ area: 'A1' });
  });

  it('are told of what is there no more, too', () => {
    const level = { area: null, neighbour: null, floor: null } as MeasuredLevel;
    expect(placeWords(doc, { ...level, neighbour: 'N1', floor: 'u' })).toBe('House, u');
    expect(placeWords(doc, { ...level, area: 'gone' })).toBe('gone');
  });

  it('take a bare number in the unit of their field', () => {
    expect([bareLevel(' 69.4 ', 'dBA'), bareLevel('48 dB', 'dB')]).toEqual(['69.4 dBA', '48 dB']);
  });
});

describe('verdicts on levels', () => {
  it('are those of the visit, level and octave of one entry together', () => {
    const judged = [
      { visit: 'V1', level: 'n', kept: true, verdict: 'within the limit of 42 dBA' },
      { visit: 'V1', level: 'n', kept: false, verdict: '1.5 dB over the limit of 60 dB' },
      { visit: 'V2', level: 'n', kept: true, verdict: 'as wanted' },
    ];
    expect(verdictsOf(judged, 'V1')).toEqual({
      n: { kept: false, verdict: 'within the limit of 42 dBA; 1.5 dB over the limit of 60 dB' },
    });
    expect(verdictsOf(judged, 'V2').n!.kept).toBe(true);
    expect(verdictsOf(judged, 'V3')).toEqual({});
  });
});
