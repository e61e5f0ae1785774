import { readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import type { JobDocument } from '../api/document';
import type { Catalogue } from '../api/shapes';
import { distance, type Point } from './geometry';
import { applied } from './pointer';
import { aside, inPlaceOf, movedTo, ONE_STAKE_M, stakeMates } from './stakes';

const catalogue = {
  loudspeakers: { spike: { mount: 'stake' }, box: { mount: 'wall' } },
} as unknown as Catalogue;
const at = (position: Point, more: object = {}) => ({
  model: 'spike',
  position,
  bearing: 90,
  mount: null,
  ...more,
});
const doc = {
  loudspeakers: {
    L1: at([0, 0]),
    L2: at([5, 5]),
    L3: at([5, 5.02], { bearing: 270 }),
    L4: at([5, 5], { mount: 'wall' }),
    L5: at([5, 5.4]),
    L6: at([0, 0], { model: 'box' }),
  },
} as unknown as JobDocument;

describe('loudspeakers on one stake', () => {
  it('are those as near as the engine says', () => {
    const engine = readFileSync(`${import.meta.dirname}/../../../crates/model/src/job/views.rs`, 'utf8');
    expect(Number(/ONE_STAKE_M: f64 = ([\d.]+);/.exec(engine)![1])).toBe(ONE_STAKE_M);
  });

  it('stand on stakes, as they say or as is usual for the model', () => {
    expect(stakeMates(doc, catalogue, 'L2')).toEqual(['L3']);
    expect(stakeMates(doc, catalogue, 'L4')).toEqual([]);
    expect(stakeMates(doc, catalogue, 'L1')).toEqual([]);
    // What hangs on a wall in the same place is written beside them all the same.
    expect(inPlaceOf(doc, 'L3')).toEqual(['L2', 'L3', 'L4']);
  });

  it('are moved together, each as it stood', () => {
    const moved = applied(doc, movedTo(doc, catalogue, 'L3', [8, 9])).loudspeakers;
    expect(moved.L3!.position).toEqual([8, 9]);
    expect(distance(moved.L2!.position, [8, 8.98])).toBeLessThan(1e-9);
    expect(moved.L4!.position).toEqual([5, 5]);
  });

  it('are parted far enough to be driven each', () => {
    // L2 faces east: its right is south.
    const [x, y] = aside(doc, 'L2');
    expect([x, y]).toEqual([5, 4.7]);
    const parted = applied(doc, movedTo(doc, catalogue, 'L2', [x, y]).slice(0, 1));
    expect(stakeMates(parted, catalogue, 'L2')).toEqual([]);
  });
});
