import { readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import type { JobDocument } from '../api/document';
import type { Catalogue } from '../api/shapes';
import {
  colourOf,
  KEY,
  letterOf,
  letterPlaces,
  mateOf,
  partsOf,
  symbolOf,
  SYMBOLS,
  symbolsOn,
} from './symbols';

const catalogue = {
  loudspeakers: {
    stake: { description: '', kind: 'two-way', mount: 'stake' },
    wall: { description: '', kind: 'two-way', mount: 'bracket' },
    rock: { description: '', kind: 'rock', mount: 'surface' },
    sub: { description: '', kind: 'subwoofer', mount: 'in ground' },
    round: { description: '', kind: 'bollard', mount: 'base' },
    small: { description: '', kind: 'satellite', mount: 'stake' },
  },
} as unknown as Catalogue;
const at = (model: string, more: object = {}) => ({
  model,
  position: [1, 1],
  bearing: 0,
  line: 'A',
  mount: null,
  ...more,
});
const doc = (loudspeakers: object) => ({ loudspeakers }) as unknown as JobDocument;

describe('the symbol of a loudspeaker', () => {
  it('says what it is, and of a two-way how it is fixed', () => {
    const placed = doc({
      a: at('stake'),
      b: at('wall', { position: [2, 2] }),
      c: at('rock', { position: [3, 3] }),
      d: at('sub', { position: [4, 4] }),
      e: at('round', { position: [5, 5] }),
      f: at('small', { position: [6, 6] }),
      g: at('stake', { position: [7, 7], mount: 'in ground' }),
      h: at('stake', { position: [8, 8], mount: 'base' }),
    });
    expect(Object.keys(placed.loudspeakers).map((id) => symbolOf(placed, catalogue, id))).toEqual([
      'stake',
      'bracket',
      'rock',
      'subwoofer',
      'bollard',
      'satellite',
      'in-ground',
      'standing',
    ]);
  });
  it('is one for two that hang back to back on a stake', () => {
    const pair = doc({ a: at('stake', { bearing: 350 }), b: at('stake', { bearing: 165 }) });
    expect([mateOf(pair, catalogue, 'a'), mateOf(pair, catalogue, 'b')]).toEqual(['b', 'a']);
    expect([symbolOf(pair, catalogue, 'a'), symbolOf(pair, catalogue, 'b')]).toEqual(['pair', null]);
    for (const other of [
      { bearing: 90 },
      { bearing: 170, position: [1.2, 1] },
      { bearing: 170, line: 'B' },
    ]) {
      const two = doc({ a: at('stake', { bearing: 350 }), b: at('stake', other) });
      expect(symbolOf(two, catalogue, 'b'), JSON.stringify(other)).toBe('stake');
    }
  });
});

describe('the key', () => {
  it('has every symbol once, in the words of the papers', () => {
    expect(KEY.map(([name]) => name).sort()).toEqual([...SYMBOLS].sort());
    const english = readFileSync(`${import.meta.dirname}/../../../crates/papers/language/en.toml`, 'utf8');
    for (const [name, words] of KEY) expect(english, name).toContain(`= "${words}"`);
  });
  it('tells what is on the plan and nothing else', () => {
    const nothing = { joints: {}, racks: {}, stubs: {}, passages: {}, marks: {}, neighbours: {} };
    const whole = {
      ...nothing,
      loudspeakers: { a: at('sub') },
      joints: { J: { kind: 'box' } },
      neighbours: { N: { points: [[0, 0]] } },
    } as unknown as JobDocument;
    expect(symbolsOn(whole, catalogue)).toEqual(['subwoofer', 'joint-box', 'neighbour']);
  });
  it('draws no two symbols alike', () => {
    expect(new Set(SYMBOLS.map((name) => JSON.stringify(partsOf(name)))).size).toBe(SYMBOLS.length);
  });
});

describe('buried services', () => {
  const KINDS = ['electric', 'gas', 'telecom', 'water', 'drain', 'irrigation'];
  it('carry their letter, and in US units the colour of the open code', () => {
    expect(KINDS.map(letterOf).join('')).toBe('EGTWDI');
    expect(KINDS.map((kind) => colourOf(kind, 'metric'))).toEqual(KINDS.map(() => null));
    expect(new Set(KINDS.map((kind) => colourOf(kind, 'us'))).size).toBe(KINDS.length);
    expect(colourOf('lava', 'us')).toBeNull();
  });
  it('have a letter in the middle of a short line and several along a long one', () => {
    expect(
      letterPlaces([
        [0, 0],
        [100, 0],
      ]),
    ).toEqual([[50, 0]]);
    const long = letterPlaces([
      [0, 0],
      [200, 0],
      [200, 220],
    ]);
    expect(long).toEqual([
      [70, 0],
      [200, 10],
      [200, 150],
    ]);
  });
});
