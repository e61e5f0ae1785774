import { describe, expect, it } from 'vitest';
import type { Thing } from '../api/document';
import type { Point } from '../lib/geometry';
import type { Stand } from './crowd';
import { roomy, Under } from './under';

const stand = (table: Thing['table'], id: string, at: Point): Stand => ({
  thing: { table, id },
  at,
  symbol: 'stake',
  bearing: 0,
  line: null,
  pinned: false,
  chosen: false,
  faint: false,
});
const alone = [stand('joints', 'J1', [0, 0]), stand('loudspeakers', 'L1', [0.5, 0])];
const cables = [{ line: 'A', run: 'A1', way: [[0, 0] as Point, [9, 0] as Point], faint: false }];
const cluster = { at: [20, 20] as Point, count: 5, box: { min: [19, 20] as Point, max: [21, 20] as Point } };
const under = new Under({ stands: alone, cables }, { alone, clusters: [cluster] }, 20, 1, 1, true);
const drawn = (table: Thing['table'], id: string, run: string | null = null) => ({
  thing: { table, id },
  run,
});

describe('a hand on a crowd with elements among it', () => {
  it('takes what is chosen first, then symbols, then cable, then the ground', () => {
    expect(under.first(drawn('loudspeakers', 'L9'), [0.2, 0]).thing!.id).toBe('L9');
    expect(under.first(drawn('areas', 'lawn'), [0.2, 0]).thing!.id).toBe('L1');
    expect(under.first(drawn('areas', 'lawn'), [6, 0.2])).toEqual(drawn('lines', 'A', 'A1'));
    expect(under.first(drawn('lines', 'B', 'B2'), [6, 0.2])).toEqual(drawn('lines', 'B', 'B2'));
    expect(under.first(drawn('areas', 'lawn'), [6, 3])).toEqual(drawn('areas', 'lawn'));
  });
  it('knows everything that lies there, once', () => {
    const things: Thing[] = [
      { table: 'areas', id: 'lawn' },
      { table: 'lines', id: 'A' },
    ];
    expect(under.among(things, [0.2, 0]).map((t) => t.id)).toEqual(['L1', 'J1', 'A', 'lawn']);
  });
  it('takes no cable where none is drawn', () => {
    const site = new Under({ stands: alone, cables }, { alone, clusters: [] }, 20, 1, 1, false);
    expect(site.first({ thing: null, run: null }, [6, 0])).toEqual({ thing: null, run: null });
  });
  it('opens a cluster to a part of the ground with room around it', () => {
    expect(under.cluster([20.5, 20])).toBe(cluster);
    expect(under.cluster([22, 20])).toBeNull();
    expect(roomy(cluster.box)).toEqual({ min: [14, 14], max: [26, 26] });
    expect(roomy({ min: [0, 0], max: [30, 4] })).toEqual({ min: [0, -4], max: [30, 8] });
  });
});
