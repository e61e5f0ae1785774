import { describe, expect, it } from 'vitest';
import type { Pack } from './shapes';
import type { FullVisit } from './document';
import { freePairs, loopEntry, loopsRead, pairTasks } from './stub';
import { stopsOf } from './work';

/** Four conductors that come out at T1, the second pair in use for something else; two lines go on from there. */
const pack = {
  catalogue: {
    cables: { old: { description: 'Old', conductors: 4, colours: ['black', 'white', 'red', 'green'] } },
    loudspeakers: {},
  },
  resolved: {
    loudspeakers: {},
    joints: {},
    stubs: { T1: { cable: 'old', rack: null, position: [0, 0], free_pairs: [1], free_conductors: null } },
    lines: {},
  },
  runs: [{ line: 'A', id: 'A1', from: 'R1', to: 'T1' }],
} as unknown as Pack;

describe('existing cable on the phone', () => {
  it('has a box for each pair that may be used, told apart by its colours', () => {
    const [one, ...more] = pairTasks(pack, 'T1');
    expect(more).toEqual([]);
    expect([one!.id, one!.label]).toEqual(['T1-pair-1', 'Pair 1 found at both ends: black and white']);
    expect(one!.done).toMatchObject({ work: 'step', at: 'T1' });
    expect(stopsOf(pack, 'A', 'm')[0]!.tasks.map((t) => t.id)).toContain('T1-pair-1');
  });

  it('takes the loop of a pair down, and shows it again, the latest first', () => {
    const [pair] = freePairs(pack, 'T1');
    const first = loopEntry('T1', pair!, 1.9, 'Ada');
    expect(first.done.notes).toBe(
      'Loop of pair 1 (black and white) joined at T1, read at the rack: 1.90 ohm',
    );
    const again = loopEntry('T1', pair!, 2.05, 'Bea');
    const visit = (date: string, { id, done }: typeof first) =>
      ({ date, done: { [id]: done } }) as unknown as FullVisit;
    const read = loopsRead({ V1: visit('2026-04-17', first), V2: visit('2026-05-02', again) }, 'T1');
    expect(read.map((r) => [r.date, r.by])).toEqual([
      ['2026-05-02', 'Bea'],
      ['2026-04-17', 'Ada'],
    ]);
    expect(loopsRead({ V1: visit('2026-04-17', first) }, 'T2')).toEqual([]);
  });
});
