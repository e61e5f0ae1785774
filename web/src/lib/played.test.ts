import { describe, expect, it } from 'vitest';
import { waysOf } from './played';

const ways = (brief: Parameters<typeof waysOf>[0], night: (number | null)[] = []) =>
  waysOf(
    brief,
    night.map((n) => ({ night: n })),
  ).map((w) => [w.when, w.down_db]);

describe('how loud a job is played', () => {
  it('is as set where the brief says no more', () => {
    expect(ways({ night_turn_down: 0 }, [null])).toEqual([['party', 0]]);
  });
  it('follows the brief, the loudest first', () => {
    expect(ways({ evening_turn_down: 6, night_turn_down: 12 })).toEqual([
      ['party', 0],
      ['evening', 6],
      ['night', 12],
    ]);
  });
  it('has a night where a neighbour has a limit by night', () => {
    expect(ways({ evening_turn_down: null, night_turn_down: 0 }, [null, 42])).toEqual([
      ['party', 0],
      ['night', 0],
    ]);
  });
});
