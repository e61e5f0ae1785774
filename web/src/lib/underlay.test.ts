import { describe, expect, it } from 'vitest';
import { distance, type Point } from './geometry';
import type { Quad } from './homography';
import { covered, drawRows, pixelAt, placeOf, squaredUp, turnedAbout, type Pixels } from './underlay';

const underlay = { image: 'a.png', metres_per_pixel: 0.1, origin: [5, 2] as Point, up: 90 };
const size = { width: 400, height: 300 };

describe('a picture under the plan', () => {
  it('lies with its upper side in its bearing', () => {
    // Its top looks east: up from the origin by 300 pixels is 30 m east, and its width goes south.
    expect(placeOf(underlay, size, [0, 300])).toEqual([5, 2]);
    expect(distance(placeOf(underlay, size, [0, 0]), [35, 2])).toBeLessThan(1e-9);
    expect(distance(placeOf(underlay, size, [400, 300]), [5, -38])).toBeLessThan(1e-9);
    const box = covered(underlay, size);
    expect(distance(box.min, [5, -38]) + distance(box.max, [35, 2])).toBeLessThan(1e-9);
  });
  it('is found again pixel by pixel', () => {
    for (const up of [0, 37, 90, 200, -15])
      for (const p of [
        [3, 4],
        [399, 12],
      ] as Point[]) {
        const u = { ...underlay, up };
        expect(distance(pixelAt(u, size, placeOf(u, size, p)), p)).toBeLessThan(1e-9);
      }
  });
  it('turns clockwise, as bearings go', () => {
    expect(distance(turnedAbout([0, 1], [0, 0], 90), [1, 0])).toBeLessThan(1e-12);
  });
});

/** A camera 10 m up that looks 40 degrees down on level ground: where a place is in its picture, pixels. */
function project([x, y]: Point): Point {
  const a = (40 * Math.PI) / 180;
  const depth = y * Math.cos(a) + 10 * Math.sin(a);
  return [400 + (700 * x) / depth, 300 + (700 * (10 * Math.cos(a) - y * Math.sin(a))) / depth];
}

describe('a slanted photo, squared up', () => {
  const places = [
    [-3, 9],
    [3, 9],
    [3, 15],
    [-3, 15],
  ] as unknown as Quad;
  /** Paving of one metre, dark and light in turns, as the camera sees it; drawn by looking every pixel's place up. */
  function photo(): Pixels {
    const [width, height] = [800, 600];
    const data = new Uint8ClampedArray(4 * width * height).fill(255);
    const a = (40 * Math.PI) / 180;
    for (let v = 0; v < height; v++)
      for (let u = 0; u < width; u++) {
        const [r, b] = [(u + 0.5 - 400) / 700, (v + 0.5 - 300) / 700];
        // From the camera through the pixel to the ground, 10 m below: solved for the place by hand.
        const y = (10 * (Math.cos(a) - b * Math.sin(a))) / (Math.sin(a) + b * Math.cos(a));
        const x = r * (y * Math.cos(a) + 10 * Math.sin(a));
        const dark = (Math.floor(x) + Math.floor(y)) % 2 === 0;
        data.set(dark ? [20, 20, 20, 255] : [230, 230, 230, 255], 4 * (v * width + u));
      }
    return { width, height, data };
  }

  it('shows the ground as from above: its paving is square, and where it should be', () => {
    const squared = squaredUp(places.map(project) as unknown as Quad, places)!;
    const into = {
      ...squared.size,
      data: new Uint8ClampedArray(4 * squared.size.width * squared.size.height),
    };
    drawRows(photo(), squared, into, 0, into.height);
    const at = ([x, y]: Point) => {
      const u = Math.floor((x - squared.box.min[0]) / squared.metres_per_pixel);
      const v = into.height - 1 - Math.floor((y - squared.box.min[1]) / squared.metres_per_pixel);
      return into.data[4 * (v * into.width + u)]!;
    };
    let looked = 0;
    for (let x = -4; x < 4; x++)
      for (let y = 8; y < 17; y++)
        for (const off of [0.2, 0.5, 0.8]) {
          const dark = (x + y) % 2 === 0;
          expect(at([x + off, y + off]) < 128, `${x + off}, ${y + off}`).toBe(dark);
          looked++;
        }
    expect(looked).toBe(216);
  });
  it('says nothing of points on one line', () => {
    const line = [
      [0, 0],
      [1, 0],
      [2, 0],
      [3, 0],
    ] as unknown as Quad;
    expect(squaredUp(line, places)).toBeNull();
  });
});
