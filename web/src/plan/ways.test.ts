import { describe, expect, it } from 'vitest';
import type { JobDocument, Thing } from '../api/document';
import type { Point } from '../lib/geometry';
import { smallestFirst } from './ways';

const square = (side: number): Point[] => [
  [0, 0],
  [side, 0],
  [side, side],
  [0, side],
];
const doc = {
  site: { outline: square(30) },
  areas: { lawn: { outline: square(10) } },
  surfaces: { grass: { outline: square(20) }, pond: { outline: square(2) } },
  racks: { R1: { position: [1, 1] } },
  walls: { wall1: { line: square(10) } },
} as unknown as JobDocument;
const thing = (table: Thing['table'], id: string): Thing => ({ table, id });

describe('things one over another', () => {
  it('are meant by a click points and lines first, then the smallest outline', () => {
    const [lawn, grass, pond] = [
      thing('areas', 'lawn'),
      thing('surfaces', 'grass'),
      thing('surfaces', 'pond'),
    ];
    const [rack, wall, site] = [thing('racks', 'R1'), thing('walls', 'wall1'), thing('site', '')];
    const order = smallestFirst(doc, [rack, lawn, wall, site, grass, pond]);
    expect(order).toEqual([rack, wall, site, pond, lawn, grass]);
  });
});
