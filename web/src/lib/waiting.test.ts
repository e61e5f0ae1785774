import { afterEach, beforeEach, describe, expect, it, vi } from 'vitest';
import { placeWords, watchPlace } from './waiting';

const { get, places } = vi.hoisted(() => {
  const places = [{ kind: 'papers', before: 2, about_s: 9 }, null];
  return { places, get: vi.fn(async (_path: string) => ({ queues: [], yours: places.shift() ?? null })) };
});
vi.mock('../api/client', () => ({ get }));

beforeEach(() => {
  vi.useFakeTimers();
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
});
