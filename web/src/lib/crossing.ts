/** Where an outline meets itself while it is drawn. The server has the last word; this says it before the pen is lifted. */
import { say } from '../words/spoken.svelte';
import { distance, minus, onSegment, type Point } from './geometry';

/** Two sides that cross or touch, by their number from 1; the side after the last corner closes the outline. */
export interface Crossing {
  first: number;
  second: number;
  at: Point;
}

/** Sides nearer than this touch, m: a tenth of what is kept of a place. */
const TOUCH_M = 1e-4;

/** Every pair of sides of a way (or outline) that crosses or touches where it should not. */
export function crossings(points: readonly Point[], closed: boolean): Crossing[] {
  const n = points.length;
  const sides = closed ? n : n - 1;
  const side = (i: number): [Point, Point] => [points[i]!, points[(i + 1) % n]!];
  const found: Crossing[] = [];
  for (let i = 0; i < sides; i++) {
    for (let j = i + 1; j < sides; j++) {
      const follows = j === i + 1 || (closed && i === 0 && j === sides - 1);
      const at = follows ? foldedBack(side(i), side(j)) : meeting(side(i), side(j));
      if (at) found.push({ first: i + 1, second: j + 1, at });
    }
  }
  return found;
}

/** Where two sides cross or touch. */
function meeting([a, b]: [Point, Point], [c, d]: [Point, Point]): Point | null {
  const [u, v, w] = [minus(b, a), minus(d, c), minus(c, a)];
  const across = u[0] * v[1] - u[1] * v[0];
  if (Math.abs(across) > 1e-12) {
    const t = (w[0] * v[1] - w[1] * v[0]) / across;
    const s = (w[0] * u[1] - w[1] * u[0]) / across;
    if (t >= 0 && t <= 1 && s >= 0 && s <= 1) return [a[0] + t * u[0], a[1] + t * u[1]];
  }
  const ends: [Point, [Point, Point]][] = [
    [a, [c, d]],
    [b, [c, d]],
    [c, [a, b]],
    [d, [a, b]],
  ];
  return ends.find(([p, [q, r]]) => distance(p, onSegment(p, q, r)) < TOUCH_M)?.[0] ?? null;
}

/** Where a side lies back on the one before it. */
function foldedBack([a, b]: [Point, Point], [c, d]: [Point, Point]): Point | null {
  const shared = distance(b, c) < distance(a, d) ? b : a;
  const [p, q] = shared === b ? [a, d] : [b, c];
  const onIt = (x: Point, from: Point, to: Point) =>
    distance(x, shared) > TOUCH_M && distance(x, onSegment(x, from, to)) < TOUCH_M;
  return onIt(p, shared, q) || onIt(q, shared, p) ? shared : null;
}

/** A crossing in words; `corners` of the outline as it is drawn. */
export function saidCrossing(c: Crossing, corners: number): string {
  const name = (side: number) =>
    side === corners ? say('the side that closes the outline') : say('side {number}', { number: side });
  const both = say('{first} and {second} meet', { first: name(c.first), second: name(c.second) });
  return `${both[0]!.toUpperCase()}${both.slice(1)}`;
}
