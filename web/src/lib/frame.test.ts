import { describe, expect, it } from 'vitest';
import { contour, type Way } from './contours';
import { loudest, readFrame, smoothed, type Frame } from './frame';

/** A frame as bytes, as the agreed form of the live channel says. */
function bytes(columns: number, rows: number, cells: number[]): ArrayBuffer {
  const buffer = new ArrayBuffer(40 + cells.length);
  const view = new DataView(buffer);
  [0x4c4d4150, 7, 3, columns, rows].forEach((v, i) => view.setUint32(4 * i, v, true));
  [-2, 1, 0.5, 40, 0.25].forEach((v, i) => view.setFloat32(20 + 4 * i, v, true));
  new Uint8Array(buffer, 40).set(cells);
  return buffer;
}

describe('a frame', () => {
  it('is read as it was written', () => {
    const frame = readFrame(bytes(2, 2, [0, 1, 2, 81]))!;
    expect(frame).toMatchObject({
      request: 7,
      revision: 3,
      columns: 2,
      rows: 2,
      x0_m: -2,
      y0_m: 1,
      spacing_m: 0.5,
    });
    expect(loudest(frame)).toBe(60);
  });
  it('is refused when cut short or of another kind', () => {
    expect(readFrame(bytes(2, 2, [1, 2, 3]))).toBeNull();
    expect(readFrame(new ArrayBuffer(12))).toBeNull();
    const other = bytes(1, 1, [1]);
    new DataView(other).setUint32(0, 1);
    expect(readFrame(other)).toBeNull();
  });
  it('keeps gaps and a level plane when smoothed', () => {
    const levels = smoothed(readFrame(bytes(3, 2, [9, 9, 0, 9, 9, 9]))!);
    expect([...levels].map((v) => (Number.isNaN(v) ? null : v))).toEqual([42, 42, null, 42, 42, 42]);
  });
});

describe('a contour', () => {
  const pairs = (way: Way) =>
    Array.from({ length: way.length / 2 }, (_, i): [number, number] => [way[2 * i]!, way[2 * i + 1]!]);
  const lengthOf = (points: [number, number][]) =>
    points.slice(1).reduce((sum, [x, y], i) => sum + Math.hypot(x - points[i]![0], y - points[i]![1]), 0);

  /** Level falling by a decibel a metre from the middle: contours are circles, known in closed form. */
  const cone = (n: number, spacing_m: number): [Frame, Float32Array] => {
    const half = ((n - 1) * spacing_m) / 2;
    const frame = { columns: n, rows: n, x0_m: -half, y0_m: -half, spacing_m } as Frame;
    const values = Float32Array.from({ length: n * n }, (_, k) => {
      const [x, y] = [(k % n) * spacing_m - half, Math.floor(k / n) * spacing_m - half];
      return 80 - Math.hypot(x, y);
    });
    return [frame, values];
  };

  it('of a cone is one closed circle of the right radius', () => {
    const [frame, values] = cone(41, 0.5);
    const ways = contour(frame, values, 74.05);
    expect(ways).toHaveLength(1);
    const points = pairs(ways[0]!);
    expect(points[0]).toEqual(points.at(-1));
    // Straight lines between points 0.5 m apart miss a curve of 6 m radius by about spacing^2 / (8 r) = 5 mm.
    points.forEach(([x, y]) => expect(Math.abs(Math.hypot(x, y) - 5.95)).toBeLessThan(0.01));
    // All the way round: 2 pi r, less what the chords cut off.
    expect(lengthOf(points)).toBeGreaterThan(2 * Math.PI * 5.95 * 0.995);
    expect(lengthOf(points)).toBeLessThan(2 * Math.PI * 5.95);
  });
  it('that leaves the map is open, and gaps are left out', () => {
    const [frame, values] = cone(21, 0.5);
    const ways = contour(frame, values, 74.05);
    expect(ways.length).toBe(4);
    // Four arcs between the corners' sides: each cuts the square of 10 m at y = 5, x = sqrt(5.95^2 - 5^2).
    const arc = Math.PI / 2 - 2 * Math.acos(5 / 5.95);
    for (const way of ways) expect(Math.abs(lengthOf(pairs(way)) - arc * 5.95)).toBeLessThan(0.02);
    values[10 * 21 + 10] = NaN;
    expect(contour(frame, values, 79.9)).toEqual([]);
  });
  it('goes straight through a saddle, once each way', () => {
    // Two peaks and two hollows at the corners of one cell: two ways past each other.
    const frame = { columns: 2, rows: 2, x0_m: 0, y0_m: 0, spacing_m: 1 } as Frame;
    expect(contour(frame, Float32Array.from([70, 60, 60, 70]), 66).map(pairs)).toEqual([
      [
        [0, expect.closeTo(0.4, 6)],
        [expect.closeTo(0.4, 6), 0],
      ],
      [
        [1, expect.closeTo(0.6, 6)],
        [expect.closeTo(0.6, 6), 1],
      ],
    ]);
  });
});
