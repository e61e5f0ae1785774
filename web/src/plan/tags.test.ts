import { describe, expect, it } from 'vitest';
import type { JobDocument } from '../api/document';
import type { Point } from '../lib/geometry';
import { placedLabels } from './labels';

const at = (position: Point) => ({ position });
const doc = {
  loudspeakers: { L1: at([0, 0]), L2: at([9, 0]), L3: at([9, 0.02]) },
  racks: {},
  stubs: {},
  joints: {},
  areas: {},
  neighbours: {},
  buildings: {},
  marks: {},
} as unknown as JobDocument;
const view = { project: ([x, y]: Point): Point => [20 * x, -20 * y] };
const texts = (focus: 'site' | 'sound', chosen: string | null) =>
  placedLabels(doc, view, focus, 1, chosen).map((l) => l.text);

describe('tags of loudspeakers', () => {
  it('stand together where they stand in one place: none is hidden', () => {
    expect(texts('sound', null)).toEqual(['L1', 'L2 + L3']);
    expect(texts('sound', 'L3')).toEqual(['L2 + L3', 'L1']);
  });
  it('are shown on the site where one is chosen', () => {
    expect(texts('site', null)).toEqual([]);
    expect(texts('site', 'L3')).toEqual(['L2 + L3']);
  });
});
