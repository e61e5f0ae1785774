import { afterEach, describe, expect, it } from 'vitest';
import type { Live } from '../api/live';
import type { Frame } from '../lib/frame';
import { LevelMap } from './map.svelte';

/** Two places by two: 60.5 dB the loudest, (7 - 1) half decibels above 57.5. */
const frame: Frame = {
  request: 1,
  revision: 0,
  columns: 2,
  rows: 2,
  x0_m: 0,
  y0_m: 0,
  spacing_m: 1,
  first_db: 57.5,
  step_db: 0.5,
  cells: new Uint8Array([1, 3, 5, 7]),
};

let map: LevelMap;
const shown = () => {
  const live = { map: () => 1, mapOff: () => undefined } as unknown as Live;
  map = new LevelMap(live, () => null);
  map.start();
  map.arrived(frame);
  return map;
};
afterEach(() => map.stop());

describe('a map of a part', () => {
  it('is asked for until the whole is looked at again, and does not stand for it', async () => {
    // Questions are put once whatever one event changes is through.
    const through = () => Promise.resolve();
    const asked: unknown[] = [];
    let n = 0;
    const live = {
      map: (wanted: { bounds?: unknown }) => (asked.push(wanted.bounds), ++n),
      mapOff: () => undefined,
    } as unknown as Live;
    map = new LevelMap(live, () => null);
    map.start();
    await through();
    map.arrived({ ...frame, request: 1 });
    map.look([0, 0, 1, 1]);
    await through();
    map.arrived({ ...frame, request: 2, spacing_m: 0.25 });
    expect(asked).toEqual([undefined, [0, 0, 1, 1]]);
    expect([map.frame?.spacing_m, map.whole?.spacing_m]).toEqual([0.25, 1]);
    map.look(null);
    await through();
    map.arrived({ ...frame, request: 3, spacing_m: 2 });
    expect(asked.at(-1)).toBeUndefined();
    expect(map.whole?.spacing_m).toBe(2);
  });
});

describe('a map turned down', () => {
  it('is the same map so many decibels lower, on the same scale', () => {
    const { scale } = shown();
    expect(map.shown).toBe(frame);
    map.down_db = 6;
    expect(map.shown).toEqual({ ...frame, first_db: 51.5 });
    expect(map.scale).toEqual(scale);
    expect(scale?.high_db).toBe(63);
  });
  it('is as set where it is held against what is wanted', () => {
    shown().down_db = 6;
    map.showVerdicts();
    map.arrived({ ...frame, request: 2 });
    expect(map.shown?.first_db).toBe(57.5);
  });
  it('is as set again the next time', () => {
    shown().down_db = 6;
    map.stop();
    map.start();
    map.arrived({ ...frame, request: 3 });
    expect(map.shown?.first_db).toBe(57.5);
  });
});
