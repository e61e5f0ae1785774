import { describe, expect, it } from 'vitest';
import type { JobDocument } from '../api/document';
import { smallPlan } from './small-plan';

const TABLES = ['surfaces', 'buildings', 'areas', 'walls', 'racks', 'loudspeakers'];
const doc = (of: Record<string, unknown> = {}) =>
  ({ site: {}, ...Object.fromEntries(TABLES.map((t) => [t, {}])), ...of }) as unknown as JobDocument;
const outline = [
  [2, 2],
  [26, 2],
  [26, 18],
  [2, 18],
];

describe('a small picture of a plan', () => {
  it('is none where nothing is drawn', () => {
    expect(smallPlan(doc())).toBeNull();
  });
  it('shows all of it with north up and some room around', () => {
    const plan = smallPlan(
      doc({
        site: { outline },
        loudspeakers: { L1: { position: [14, 10] } },
        racks: { R1: { position: [3, 9] } },
      }),
    )!;
    const [x, y, w, h] = plan.viewBox.split(' ').map(Number) as [number, number, number, number];
    // 24 m by 16 m, and a twentieth of the larger side all around; north, at 18 m, is the upper edge.
    expect([x, y, w, h].map((u) => Number(u.toFixed(6)))).toEqual([2 - 1.2, -18 - 1.2, 24 + 2.4, 16 + 2.4]);
    expect(plan.shapes.map((s) => s.kind)).toEqual(['property', 'rack', 'loudspeaker']);
    expect(plan.shapes[0]!.d).toBe('M2 -2L26 -2L26 -18L2 -18Z');
  });
  it('shows a single thing larger than a dot', () => {
    const plan = smallPlan(doc({ racks: { R1: { position: [3, 9] } } }))!;
    expect(plan.viewBox.split(' ').slice(2).map(Number)).toEqual([4.4, 4.4]);
  });
});
