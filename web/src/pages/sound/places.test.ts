import { describe, expect, it } from 'vitest';
import type { AtPlaceView } from '../../api/shapes';
import { difference, Places } from './places.svelte';

const heard = (level_dba: number) => ({ level_dba }) as AtPlaceView;

describe('a place pinned for comparison', () => {
  it('keeps what was heard there, and follows the job', async () => {
    let louder = 0;
    const places = new Places('a job', (path) =>
      Promise.resolve(heard((path.includes('x=1&') ? 60 : 70) + louder)),
    );
    await places.measure([1, 2]);
    places.pin();
    await places.measure([5, 2]);
    louder = 3;
    await places.again();
    expect(places.heard!.level_dba).toBe(73);
    expect(places.pinned!.at).toEqual([1, 2]);
    expect([places.pinned!.then, places.pinned!.now].map((p) => p.level_dba)).toEqual([60, 63]);
    places.unpin();
    await places.again();
    expect(places.pinned).toBeNull();
  });

  it('is not the one that a late answer was about', async () => {
    const answers: ((view: AtPlaceView) => void)[] = [];
    const places = new Places('a job', () => new Promise((answer) => answers.push(answer)));
    const both = [places.measure([1, 2]), places.measure([5, 2])];
    answers[1]!(heard(70));
    answers[0]!(heard(60));
    await Promise.all(both);
    expect(places.heard!.level_dba).toBe(70);
  });

  it('says by how much another is louder', () => {
    expect(difference(66.4, 63.2)).toBe('3.2 dB louder');
    expect(difference(60, 63.2)).toBe('3.2 dB quieter');
    expect(difference(60.01, 60)).toBe('as loud');
    expect(difference(60, -Infinity)).toBeNull();
  });
});
