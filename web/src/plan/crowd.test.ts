import { describe, expect, it } from 'vitest';
import type { JobDocument, Loudspeaker } from '../api/document';
import type { Catalogue } from '../api/shapes';
import { distance, type Point } from '../lib/geometry';
import { nearEach } from '../lib/near';
import { inPlaceOf } from '../lib/stakes';
import { cablesAt, clusterAt, crowdOf, gathered, isCrowd, MANY, standsAt, unchanged } from './crowd';
import { symbolOf } from './symbols';

const model = { kind: 'full range', mount: 'stake' };
const catalogue = { loudspeakers: { m: model } } as unknown as Catalogue;
const speaker = (position: Point, more: Partial<Loudspeaker> = {}): Loudspeaker => ({
  model: 'm',
  position,
  height: null,
  bearing: 0,
  pitch: 0,
  tap: null,
  mount: null,
  line: 'A',
  pinned: false,
  ...more,
});
/** Rows of ten, four metres apart; every twentieth has another back to back on its stake. */
const loudspeakers: Record<string, Loudspeaker> = {};
for (let n = 0; n < 200; n++) {
  const position: Point = [4 * (n % 10), 4 * Math.floor(n / 10)];
  loudspeakers[`L${n + 1}`] = speaker(position);
  if (n % 20 === 0) loudspeakers[`M${n + 1}`] = speaker([position[0] + 0.02, position[1]], { bearing: 180 });
}
const run = (from: string, to: string) => ({ from, to, via: [] as Point[] });
const doc = {
  marks: {},
  passages: {},
  stubs: {},
  racks: { R: { position: [0, -4] } },
  joints: { J1: { position: [1.8, 0], kind: 'box' } },
  loudspeakers,
  lines: { A: { runs: { A1: run('R', 'L1'), A2: run('L1', 'L2') } }, B: { runs: { B1: run('R', 'L11') } } },
} as unknown as JobDocument;
const all = () => true;
const none = new Set<string>();

describe('many symbols', () => {
  it('have those that one by one would have', () => {
    const { stands } = crowdOf(doc, catalogue, none, all);
    expect(isCrowd(doc)).toBe(true);
    expect(isCrowd({ loudspeakers: Object.fromEntries(Object.entries(loudspeakers).slice(0, MANY)) })).toBe(
      false,
    );
    for (const s of stands.filter((each) => each.thing.table === 'loudspeakers'))
      expect(s.symbol).toBe(symbolOf(doc, catalogue, s.thing.id));
    expect(stands.filter((s) => s.symbol === 'pair').length).toBe(10);
    expect(stands.find((s) => s.thing.id === 'J1')!.symbol).toBe('joint-box');
  });
  it('find what stands in one place without going through all', () => {
    const near = nearEach(loudspeakers);
    for (const id of Object.keys(loudspeakers))
      expect(inPlaceOf({ loudspeakers: near(id) }, id)).toEqual(inPlaceOf(doc, id));
  });
  it('leave out what is chosen, and with a line its cable', () => {
    const { stands, cables } = crowdOf(doc, catalogue, new Set(['loudspeakers/L3', 'lines/A']), all);
    expect(stands.some((s) => s.thing.id === 'L3')).toBe(false);
    expect(cables.map((c) => c.run)).toEqual(['B1']);
  });
  it('are the crowd of before while only what is chosen moves', () => {
    const apart = new Set(['loudspeakers/L3']);
    const before = crowdOf(doc, catalogue, apart, all);
    const moved = (id: string) => ({
      ...doc,
      loudspeakers: { ...loudspeakers, [id]: speaker([99, 99]) },
    });
    expect(unchanged(before, crowdOf(moved('L3'), catalogue, apart, all))).toBe(before);
    expect(unchanged(before, crowdOf(moved('L4'), catalogue, apart, all))).not.toBe(before);
    expect(unchanged(null, before)).toBe(before);
  });
  it('stay on the canvas, marked, where more is chosen than can be drawn apart', () => {
    const every = new Set(Object.keys(loudspeakers).map((id) => `loudspeakers/${id}`));
    const { stands } = crowdOf(doc, catalogue, every, () => false);
    const marked = stands.filter((s) => s.chosen);
    expect(marked.length).toBe(every.size);
    // What is chosen is seen and stands by itself, whatever is looked at and from however far.
    expect(marked.every((s) => !s.faint)).toBe(true);
    expect(gathered(stands, 1, 1).clusters).toEqual([]);
  });
});

describe('from far away', () => {
  const { stands } = crowdOf(doc, catalogue, none, all);
  const count = (k: number) => gathered(stands, k, 1).clusters.reduce((sum, c) => sum + c.count, 0);
  it('loudspeakers gather, and none is lost or counted twice', () => {
    for (const k of [0.3, 1, 2.5, 6, 20]) {
      const { alone, clusters } = gathered(stands, k, 1);
      expect(alone.length + clusters.reduce((sum, c) => sum + c.count, 0)).toBe(stands.length);
      for (const c of clusters) expect(c.count).toBeGreaterThanOrEqual(4);
    }
    // At a pixel a metre all stand within symbols' breadth of each other; at twenty they are eighty pixels apart.
    expect(count(1)).toBe(Object.keys(loudspeakers).length);
    expect(count(20)).toBe(0);
  });
  it('clusters lie on the ground: the same at zooms a little apart', () => {
    expect(gathered(stands, 2.5, 1).clusters).toEqual(gathered(stands, 2.6, 1).clusters);
  });
  it('a cluster is taken by its disc alone', () => {
    const { clusters } = gathered(stands, 1, 1);
    const [first] = clusters;
    expect(clusterAt(clusters, first!.at, 1, 1)).toBe(first);
    expect(clusterAt([first!], [first!.at[0] + 16, first!.at[1]], 1, 1)).toBeNull();
  });
  it('what is no part of what is looked at gathers nowhere', () => {
    const faint = crowdOf(doc, catalogue, none, (t) => t.table !== 'loudspeakers').stands;
    expect(gathered(faint, 1, 1).clusters).toEqual([]);
  });
});

describe('a hand on a crowd', () => {
  const { stands, cables } = crowdOf(doc, catalogue, none, all);
  it('takes the symbol under it, loudspeakers before joints, the nearest first', () => {
    // At 20 px a metre a symbol is taken within 1.1 m: brute force over all.
    const at: Point = [1.05, 0.1];
    const reach = 22 / 20;
    const want = Object.entries(loudspeakers)
      .map(([id, l]) => ({ id, far: distance(l.position, at) }))
      .filter((l) => l.far <= reach)
      .sort((a, b) => a.far - b.far)
      .map((l) => l.id);
    expect(standsAt(stands, at, 20, 1).map((t) => t.id)).toEqual([...want, 'J1']);
    expect(want).toEqual(['M1', 'L1']);
    expect(standsAt(stands, [1.2, -2.5], 20, 1)).toEqual([]);
  });
  it('takes cable within its band, one run a line', () => {
    expect(cablesAt(cables, [0.1, -2], 20, 1).map((c) => c.run)).toEqual(['A1', 'B1']);
    expect(cablesAt(cables, [1.9, 0.3], 20, 1).map((c) => c.run)).toEqual(['A2']);
    expect(cablesAt(cables, [1.9, 0.5], 20, 1)).toEqual([]);
  });
  it('takes nothing that is faint', () => {
    const { stands: faint, cables: dim } = crowdOf(doc, catalogue, none, () => false);
    expect(standsAt(faint, [0, 0], 20, 1)).toEqual([]);
    expect(cablesAt(dim, [0, -2], 20, 1)).toEqual([]);
  });
});
