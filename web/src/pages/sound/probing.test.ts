import { describe, expect, it } from 'vitest';
import type { ProbeView } from '../../api/shapes';
import { difference, Probing } from './probing.svelte';

const heard = (level_dba: number) => ({ level_dba }) as ProbeView;

describe('a place pinned for comparison', () => {
  it('keeps what was heard there, and follows the job', async () => {
    let louder = 0;
    const probing = new Probing('a job', (path) =>
      Promise.resolve(heard((path.includes('x=1&') ? 60 : 70) + louder)),
    );
    await probing.measure([1, 2]);
    probing.pin();
    await probing.measure([5, 2]);
    louder = 3;
    await probing.again();
    expect(probing.heard!.level_dba).toBe(73);
    expect(probing.pinned!.at).toEqual([1, 2]);
    expect([probing.pinned!.then, probing.pinned!.now].map((p) => p.level_dba)).toEqual([60, 63]);
    probing.unpin();
    await probing.again();
    expect(probing.pinned).toBeNull();
  });

  it('is not the one that a late answer was about', async () => {
    const answers: ((view: ProbeView) => void)[] = [];
    const probing = new Probing('a job', () => new Promise((answer) => answers.push(answer)));
    const both = [probing.measure([1, 2]), probing.measure([5, 2])];
    answers[1]!(heard(70));
    answers[0]!(heard(60));
    await Promise.all(both);
    expect(probing.heard!.level_dba).toBe(70);
  });

  it('says by how much another is louder', () => {
    expect(difference(66.4, 63.2)).toBe('3.2 dB louder');
    expect(difference(60, 63.2)).toBe('3.2 dB quieter');
    expect(difference(60.01, 60)).toBe('as loud');
    expect(difference(60, -Infinity)).toBeNull();
  });
});
