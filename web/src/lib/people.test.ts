import { describe, expect, it } from 'vitest';
import { alsoHere, othersOf } from './people';

describe('who else is here', () => {
  it('is everybody but this window, another window of the same person too', () => {
    expect(othersOf(['Ada'], 'Ada')).toEqual([]);
    expect(othersOf(['Ben', 'Ada'], 'Ada')).toEqual(['Ben']);
    expect(othersOf(['somebody', 'somebody'], 'somebody')).toEqual(['somebody']);
    // Renamed since the channel was opened: one is left out all the same.
    expect(othersOf(['Ben', 'Cem'], 'Ada')).toHaveLength(1);
  });

  it('reads right for one, two and many, each name once', () => {
    for (const [others, said] of [
      [['Ada'], 'Ada'],
      [['somebody'], 'somebody without a name'],
      [['Ada', 'Ben'], 'Ada and Ben'],
      [['Ada', 'Ben', 'Cem'], 'Ada, Ben and Cem'],
      [['Ada', 'Ada'], 'Ada in 2 windows'],
      [['somebody', 'somebody'], '2 without a name'],
      [['somebody', 'Ada', '', 'Ben', 'Ada'], 'Ada in 2 windows, Ben and 2 without a name'],
    ] as const)
      expect(alsoHere(others)).toBe(`Also here: ${said}`);
  });
});
