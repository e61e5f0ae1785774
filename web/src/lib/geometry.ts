/** Points and ways in plan: x east, y north, metres; bearings in degrees clockwise from north. */
export type Point = [number, number];

export const minus = (p: Point, q: Point): Point => [p[0] - q[0], p[1] - q[1]];
export const distance = (p: Point, q: Point) => Math.hypot(p[0] - q[0], p[1] - q[1]);

/** Bearing from one point to another, 0 up to 360 degrees. */
export function bearing(from: Point, to: Point): number {
  const deg = (Math.atan2(to[0] - from[0], to[1] - from[1]) * 180) / Math.PI;
  return (deg + 360) % 360;
}

/** The point at a distance and bearing. */
export function polar(from: Point, length_m: number, bearing_deg: number): Point {
  const a = (bearing_deg * Math.PI) / 180;
  return [from[0] + length_m * Math.sin(a), from[1] + length_m * Math.cos(a)];
}

/** To a tenth of a millimetre: the document stays readable, and an inch (25.4 mm) whole. */
export const tidy = (p: Point): Point => [Math.round(p[0] * 1e4) / 1e4, Math.round(p[1] * 1e4) / 1e4];

/** Nearest point of a segment. */
export function onSegment(p: Point, a: Point, b: Point): Point {
  const [dx, dy] = minus(b, a);
  const square = dx * dx + dy * dy;
  const t = square === 0 ? 0 : Math.min(1, Math.max(0, ((p[0] - a[0]) * dx + (p[1] - a[1]) * dy) / square));
  return [a[0] + t * dx, a[1] + t * dy];
}

export const wayLength = (way: readonly Point[]) =>
  way.slice(1).reduce((sum, p, i) => sum + distance(way[i]!, p), 0);

/** Signed area, m2: positive when the corners go counter-clockwise. */
export function area(outline: readonly Point[]): number {
  let twice = 0;
  outline.forEach((p, i) => {
    const q = outline[(i + 1) % outline.length]!;
    twice += p[0] * q[1] - q[0] * p[1];
  });
  return twice / 2;
}

/** Centre of an outline's area; the mean of the points when it has none. */
export function centre(outline: readonly Point[]): Point {
  const a = area(outline);
  if (Math.abs(a) < 1e-9) {
    const n = Math.max(1, outline.length);
    const sum = outline.reduce<Point>((s, p) => [s[0] + p[0], s[1] + p[1]], [0, 0]);
    return [sum[0] / n, sum[1] / n];
  }
  let [x, y] = [0, 0];
  outline.forEach((p, i) => {
    const q = outline[(i + 1) % outline.length]!;
    const cross = p[0] * q[1] - q[0] * p[1];
    x += (p[0] + q[0]) * cross;
    y += (p[1] + q[1]) * cross;
  });
  return [x / (6 * a), y / (6 * a)];
}

export function inside(p: Point, outline: readonly Point[]): boolean {
  let within = false;
  outline.forEach((a, i) => {
    const b = outline[(i + 1) % outline.length]!;
    if (a[1] > p[1] !== b[1] > p[1] && p[0] < ((b[0] - a[0]) * (p[1] - a[1])) / (b[1] - a[1]) + a[0]) {
      within = !within;
    }
  });
  return within;
}

export interface Box {
  min: Point;
  max: Point;
}

export function boxOf(points: Iterable<Point>): Box | null {
  let box: Box | null = null;
  for (const [x, y] of points) {
    if (!box) box = { min: [x, y], max: [x, y] };
    box.min = [Math.min(box.min[0], x), Math.min(box.min[1], y)];
    box.max = [Math.max(box.max[0], x), Math.max(box.max[1], y)];
  }
  return box;
}

/** SVG path of a way, in metres with y up. */
export const pathOf = (way: readonly Point[], closed: boolean) =>
  way.length === 0 ? '' : `M${way.map((p) => `${p[0]} ${p[1]}`).join('L')}${closed ? 'Z' : ''}`;
