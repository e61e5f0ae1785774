import { afterEach, beforeEach, describe, expect, it, vi } from 'vitest';
import { placeWords, watchDownload, watchPlace } from './waiting';

const { get, places } = vi.hoisted(() => {
  const places: ({ kind: string; before: number; about_s: number } | null)[] = [];
  return { places, get: vi.fn(async (_path: string) => ({ queues: [], yours: places.shift() ?? null })) };
});
vi.mock('../api/client', () => ({ get }));

beforeEach(() => {
  vi.useFakeTimers();
  get.mockClear();
});
afterEach(() => {
  vi.useRealTimers();
});

describe('a place in a queue', () => {
  it('is told by how many are before and about how long', () => {
    expect(placeWords({ before: 2, about_s: 9 })).toBe('2 before you, about 9 s');
    expect(placeWords({ before: 0, about_s: 3 })).toBe('next in turn, about 3 s');
  });

  it('is asked for now and then until it is over', async () => {
    places.push({ kind: 'papers', before: 2, about_s: 9 }, null);
    const told: (string | null)[] = [];
    const stop = watchPlace('a-ticket', (place) => told.push(place));
    expect(get).not.toHaveBeenCalled();
    await vi.advanceTimersByTimeAsync(1000);
    expect(get).toHaveBeenCalledWith('/queues?ticket=a-ticket');
    await vi.advanceTimersByTimeAsync(1000);
    expect(told).toEqual(['2 before you, about 9 s', null]);
    expect(places).toEqual([]);
    stop();
    await vi.advanceTimersByTimeAsync(5000);
    expect(told).toEqual(['2 before you, about 9 s', null, null]);
    expect(get).toHaveBeenCalledTimes(2);
  });

  it('of a download is asked for until it has its turn', async () => {
    // Not arrived, waiting, its turn.
    places.push(null, { kind: 'folders', before: 1, about_s: 3 }, null);
    const told: (string | null)[] = [];
    watchDownload('a-ticket', (place) => told.push(place));
    await vi.advanceTimersByTimeAsync(20_000);
    expect(told.filter(Boolean)).toEqual(['1 before you, about 3 s']);
    expect(told.at(-1)).toBeNull();
    expect(get).toHaveBeenCalledTimes(3);
  });

  it('of a download that never waits is asked for three times', async () => {
    const told: (string | null)[] = [];
    watchDownload('a-ticket', (place) => told.push(place));
    await vi.advanceTimersByTimeAsync(20_000);
    expect(told.some(Boolean)).toBe(false);
    expect(get).toHaveBeenCalledTimes(3);
  });
});
