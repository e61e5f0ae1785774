import { describe, expect, it } from 'vitest';
import type { Bounds } from '../api/live';
import type { Box } from '../lib/geometry';
import { partFor, seenBox } from './looked-at';

/** An estate of 600 m by 400 m with a place every 8 m. */
const whole = { x0_m: 0, y0_m: 0, columns: 76, rows: 51, spacing_m: 8 };
const around = (x: number, y: number, width: number): Box => ({
  min: [x - width / 2, y - width / 2],
  max: [x + width / 2, y + width / 2],
});
const part = (seen: Box, k: number, now: Bounds | null = null) => partFor(seen, whole, k, 1, now);

describe('the part of the plan a map is asked for', () => {
  it('is all of it where its places are near each other on the screen', () => {
    // 8 m at 1.5 px a metre are 12 px.
    expect(part(around(300, 200, 500), 1.5)).toBeNull();
  });
  it('has all that is seen and some around it, and nothing beyond what is drawn', () => {
    const [west, south, east, north] = part(around(300, 200, 80), 12)!;
    expect(west).toBeLessThanOrEqual(240);
    expect(east).toBeGreaterThanOrEqual(360);
    // At most half as much again each way, by a quarter of the width and up to a step of the grid.
    expect(east - west).toBeLessThanOrEqual(80 * 2.2);
    expect([south, north].every((y) => y >= 0 && y <= 400)).toBe(true);
    const corner = part(around(10, 10, 80), 12)!;
    expect([corner[0], corner[1]]).toEqual([0, 0]);
  });
  it('stays while what is seen is in it, and is another once it is far too coarse', () => {
    const now = part(around(300, 200, 80), 12)!;
    expect(part(around(310, 205, 80), 12, now)).toBe(now);
    expect(part(around(300, 200, 20), 48, now)).not.toBe(now);
    expect(part(around(500, 300, 80), 12, now)).not.toBe(now);
    expect(part(around(300, 200, 500), 1.5, now)).toBeNull();
  });
  it('is the same however one came to it', () => {
    expect(part(around(300, 200, 80), 12)).toEqual(part(around(301, 201, 80), 12));
  });
  it('is the whole where nothing that is drawn is seen', () => {
    expect(part(around(-900, 0, 80), 12)).toBeNull();
  });
  it('follows from the view, north up', () => {
    const view = { unproject: ([x, y]: [number, number]): [number, number] => [x / 10, (500 - y) / 10] };
    expect(seenBox(view, 800, 500)).toEqual({ min: [0, 0], max: [80, 50] });
  });
});
