import { afterEach, describe, expect, it } from 'vitest';
import type { JobDocument } from '../api/document';
import { distance, tidy, type Point } from '../lib/geometry';
import { length, square } from '../lib/units';
import { prefs } from '../state/prefs.svelte';
import { Drawing } from './drawing.svelte';
import { gridM } from './grid';
import { arrow } from './shaping.svelte';
import { TOOLS } from './tools';

afterEach(() => prefs.set({ unit: 'm' }));

const tables = ['surfaces', 'buildings', 'areas', 'no_go', 'walls', 'services', 'sleeves'];
const places = ['marks', 'racks', 'passages', 'stubs', 'joints', 'loudspeakers'];
const empty = {
  ...Object.fromEntries([...tables, ...places].map((t) => [t, {}])),
  site: { outline: null },
} as unknown as JobDocument;

/** What is drawn by clicks near these places. */
function drawn(...near: Point[]): Point[] {
  const drawing = new Drawing();
  drawing.start(TOOLS.find((t) => t.key === 'wall')!);
  for (const at of near) {
    drawing.hover(at, empty, 0.01);
    drawing.add(drawing.cursor!.at);
  }
  return drawing.points;
}

describe('what is drawn by hand', () => {
  // 1 ft is 0.3048 m by definition: 50 ft are 15.24 m.
  it('is of round feet where feet are chosen', () => {
    prefs.set({ unit: 'ft' });
    const [a, b] = drawn([0.01, 0.02], [15.22, 0.03]) as [Point, Point];
    expect(distance(a, b)).toBeCloseTo(15.24, 9);
    expect(length(distance(a, b), 'ft')).toBe('50 ft');
    const [c, d] = drawn([0, 0], [15.3, 4.6]) as [Point, Point];
    expect([length(d[0] - c[0], 'ft'), length(d[1] - c[1], 'ft')]).toEqual(['50 ft 3 in', '15 ft']);
  });

  it('is of tenths of a metre where metres are', () => {
    expect(drawn([0.01, 0.02], [15.22, 3.03])).toEqual([
      [0, 0],
      [15.2, 3],
    ]);
  });

  it('stays round however often a key moves it', () => {
    prefs.set({ unit: 'ft' });
    let x = 0;
    for (let n = 0; n < 200; n++)
      [x] = tidy([x + arrow(new KeyboardEvent('keydown', { key: 'ArrowRight' }))![0], 0]);
    // Two hundred quarters of a foot.
    expect(x).toBeCloseTo(50 * 0.3048, 9);
    expect(gridM('ft')).toBeCloseTo(0.0762, 12);
  });
});

describe('an area', () => {
  it('is in the units of the lengths beside it', () => {
    expect([square(38.43, 'm'), square(9.290304, 'ft')]).toEqual(['38.4 m²', '100 sq ft']);
  });
});
