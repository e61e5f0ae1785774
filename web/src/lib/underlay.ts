/** Where the picture under the plan lies: pixels, from its upper left corner, and metres of the plan. */
import type { Underlay } from '../api/document';
import { boxOf, type Box, type Point } from './geometry';
import { inverse, homography, seen, type Matrix3, type Quad } from './homography';

export interface Size {
  width: number;
  height: number;
}

/** A direction turned clockwise. */
const turned = ([x, y]: Point, deg: number): Point => {
  const a = (deg * Math.PI) / 180;
  return [x * Math.cos(a) + y * Math.sin(a), y * Math.cos(a) - x * Math.sin(a)];
};

/** A place turned clockwise about another. */
export const turnedAbout = (p: Point, about: Point, deg: number): Point => {
  const [x, y] = turned([p[0] - about[0], p[1] - about[1]], deg);
  return [about[0] + x, about[1] + y];
};

/** The place of a pixel. */
export function placeOf(u: Underlay, { height }: Size, [x, y]: Point): Point {
  const along = turned([x * u.metres_per_pixel, (height - y) * u.metres_per_pixel], u.up);
  return [u.origin[0] + along[0], u.origin[1] + along[1]];
}

/** The pixel at a place, between pixels too. */
export function pixelAt(u: Underlay, { height }: Size, p: Point): Point {
  const [x, y] = turned([p[0] - u.origin[0], p[1] - u.origin[1]], -u.up);
  return [x / u.metres_per_pixel, height - y / u.metres_per_pixel];
}

/** What it covers. */
export function covered(u: Underlay, size: Size): Box {
  const corners: Point[] = [
    [0, 0],
    [size.width, 0],
    [size.width, size.height],
    [0, size.height],
  ];
  return boxOf(corners.map((c) => placeOf(u, size, c)))!;
}

/** How far around the four points a squared picture goes, as a share of their larger side: farther out a slanted photo is blurred. */
const AROUND = 0.6;
/** Longest side of a squared picture, pixels: more says nothing new of most photos and takes long on a phone. */
const LONGEST_PX = 2000;

export interface Squared {
  /** What the new picture covers, metres. */
  box: Box;
  size: Size;
  metres_per_pixel: number;
  /** From places to pixels of the slanted picture. */
  toPixel: Matrix3;
}

/** The picture seen from above, by four of its pixels and the places they show; `null` where these say nothing sure. */
export function squaredUp(pixels: Quad, places: Quad): Squared | null {
  const toPlace = homography(pixels, places);
  if (!toPlace) return null;
  const toPixel = inverse(toPlace);
  const { min, max } = boxOf([...places])!;
  const around = AROUND * Math.max(max[0] - min[0], max[1] - min[1]);
  const box: Box = {
    min: [min[0] - around, min[1] - around],
    max: [max[0] + around, max[1] + around],
  };
  const [w, h] = [box.max[0] - box.min[0], box.max[1] - box.min[1]];
  // As fine as the slanted picture is in the middle of the four, and no larger than is worth while.
  const at: Point = [(min[0] + max[0]) / 2, (min[1] + max[1]) / 2];
  const step = (max[0] - min[0]) / 100;
  const [p, e, n] = [at, [at[0] + step, at[1]], [at[0], at[1] + step]].map((q) => seen(toPixel, q as Point));
  if (!p || !e || !n) return null;
  const square = Math.abs((e[0] - p[0]) * (n[1] - p[1]) - (e[1] - p[1]) * (n[0] - p[0]));
  const metres_per_pixel = Math.max(step / Math.sqrt(square), Math.max(w, h) / LONGEST_PX);
  const size = { width: Math.ceil(w / metres_per_pixel), height: Math.ceil(h / metres_per_pixel) };
  return { box, size, metres_per_pixel, toPixel };
}

/** A picture, four bytes for each pixel. */
export interface Pixels extends Size {
  data: { [at: number]: number; readonly length: number };
}

/** Draws some rows of the picture seen from above, each pixel between the four it lies among; what was not seen stays clear. */
export function drawRows(slanted: Pixels, to: Squared, into: Pixels, from: number, until: number) {
  const { data, width, height } = slanted;
  for (let y = from; y < until; y++) {
    for (let x = 0; x < into.width; x++) {
      const place: Point = [
        to.box.min[0] + (x + 0.5) * to.metres_per_pixel,
        to.box.min[1] + (into.height - y - 0.5) * to.metres_per_pixel,
      ];
      const pixel = seen(to.toPixel, place);
      if (!pixel) continue;
      const [u, v] = [pixel[0] - 0.5, pixel[1] - 0.5];
      if (u < 0 || v < 0 || u > width - 1 || v > height - 1) continue;
      const [i, j] = [Math.min(Math.floor(u), width - 2), Math.min(Math.floor(v), height - 2)];
      const [fu, fv] = [u - i, v - j];
      const [a, b] = [4 * (j * width + i), 4 * ((j + 1) * width + i)];
      const o = 4 * (y * into.width + x);
      for (let c = 0; c < 4; c++) {
        const above = data[a + c]! * (1 - fu) + data[a + 4 + c]! * fu;
        const below = data[b + c]! * (1 - fu) + data[b + 4 + c]! * fu;
        into.data[o + c] = above * (1 - fv) + below * fv;
      }
    }
  }
}
