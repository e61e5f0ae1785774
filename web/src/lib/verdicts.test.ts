import { describe, expect, it } from 'vitest';
import type { Point } from './geometry';
import { lightness } from './palette';
import { areaAt, STROKES_EVERY, verdictColour, verdictOf, VERDICTS } from './verdicts';

const square = (x: number, size: number): Point[] => [
  [x, 0],
  [x + size, 0],
  [x + size, size],
  [x, size],
];

describe('within what is wanted or not', () => {
  const area = { target: 65, within: 3 };
  it('goes by the target and its tolerance, both ends counted in', () => {
    const levels = [61.9, 62, 65, 68, 68.1];
    expect(levels.map((l) => verdictOf(l, area))).toEqual(['below', 'within', 'within', 'within', 'above']);
  });
  it('is judged by the smallest area at a place, and nowhere else', () => {
    const [small, large] = [{ outline: square(2, 2) }, { outline: square(0, 10) }];
    expect(areaAt([small, large], [3, 1])).toBe(small);
    expect(areaAt([small, large], [8, 1])).toBe(large);
    expect(areaAt([small, large], [11, 1])).toBeNull();
  });
});

describe.each(['pale', 'dark'] as const)('the colours of verdicts on %s ground', (ground) => {
  const picture = (verdict: (typeof VERDICTS)[number]) =>
    Array.from({ length: STROKES_EVERY ** 2 }, (_, i) =>
      verdictColour(verdict, ground, i % STROKES_EVERY, Math.floor(i / STROKES_EVERY)),
    );
  it('tell them apart without colour: strokes rise, fall, or are not there', () => {
    const dark = (verdict: (typeof VERDICTS)[number]) => picture(verdict).map((c) => lightness(c).toFixed(2));
    expect(new Set(dark('within')).size).toBe(1);
    expect(new Set(dark('above')).size).toBe(2);
    expect(new Set(dark('below')).size).toBe(2);
    // Upside down one is the other's direction.
    const at = (verdict: 'above' | 'below', x: number, y: number) => verdictColour(verdict, ground, x, y);
    for (let d = 0; d < 2 * STROKES_EVERY; d++) {
      expect(at('above', d, 0)).toEqual(at('above', 0, d));
      expect(at('below', d, d)).toEqual(at('below', 0, 0));
    }
  });
});
