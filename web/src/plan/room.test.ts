import { describe, expect, it } from 'vitest';
import { Room, textBox, type Box } from './room';

/** Numbers that look thrown, always the same (the generator of C's standard, as its text gives it). */
function thrown() {
  let state = 1;
  return () => {
    state = (state * 1103515245 + 12345) % 2 ** 31;
    return state / 2 ** 31;
  };
}

describe('room on the screen', () => {
  it('is found free exactly where no box that was taken meets it', () => {
    const next = thrown();
    const box = (): Box => {
      const [left, top] = [next() * 900 - 100, next() * 600 - 100];
      return { left, top, right: left + 5 + next() * 150, bottom: top + 5 + next() * 30 };
    };
    const room = new Room();
    const taken: Box[] = [];
    let [free, not] = [0, 0];
    for (let i = 0; i < 400; i++) {
      const b = box();
      // Box by box, without squares to look them up by.
      const meets = taken.some(
        (t) =>
          Math.max(t.left, b.left) < Math.min(t.right, b.right) &&
          Math.max(t.top, b.top) < Math.min(t.bottom, b.bottom),
      );
      expect(room.empty(b)).toBe(!meets);
      if (meets) not++;
      else {
        free++;
        room.take(b);
        taken.push(b);
      }
    }
    expect(Math.min(free, not)).toBeGreaterThan(50);
  });

  it('goes about the middle of a text, larger where everything is', () => {
    const [small, large] = [textBox([100, 50], 'L12', 1), textBox([100, 50], 'L12', 2)];
    expect((small.left + small.right) / 2).toBe(100);
    expect((small.top + small.bottom) / 2).toBe(50);
    expect(large.right - large.left).toBe(2 * (small.right - small.left));
    expect(large.bottom - large.top).toBe(2 * (small.bottom - small.top));
  });
});
