/** Lines of equal level by marching squares with straight-line interpolation (the usual method; saddles split by the cell's mean). */
import type { Frame } from './frame';

/** A contour: x and y of its points in turn, m. */
export type Way = number[];

/**
 * Two places for each cell edge: the edges a contour goes on to from there, plus one; 0 for none. Kept between calls and
 * always left empty: contours are drawn with every picture of a drag, and leave nothing to tidy up.
 */
let links = new Int32Array(0);

function put(edge: number, to: number, touched: number[]) {
  if (links[2 * edge] === 0) {
    links[2 * edge] = to + 1;
    touched.push(edge);
  } else links[2 * edge + 1] = to + 1;
}

function take(edge: number, to: number) {
  const place = links[2 * edge] === to + 1 ? 2 * edge : 2 * edge + 1;
  links[place] = 0;
}

/** The edge a contour goes on to; -1 where it ends. */
const next = (edge: number) => (links[2 * edge] || links[2 * edge + 1]!) - 1;

/** The contour of one level as ways in metres; closed ways end where they begin. Cells with a gap at a corner are left out. */
export function contour(frame: Frame, values: Float32Array, level_db: number): Way[] {
  const { columns, rows, x0_m, y0_m, spacing_m } = frame;
  if (links.length < 4 * columns * rows) links = new Int32Array(4 * columns * rows);
  // An edge is known by its lower-left grid point and direction.
  const touched: number[] = [];
  const join = (a: number, b: number) => {
    put(a, b, touched);
    put(b, a, touched);
  };
  for (let j = 0; j < rows - 1; j++) {
    for (let i = 0; i < columns - 1; i++) {
      const k = j * columns + i;
      const [a, b, c, d] = [values[k]!, values[k + 1]!, values[k + columns + 1]!, values[k + columns]!];
      const shape =
        (a >= level_db ? 1 : 0) | (b >= level_db ? 2 : 0) | (c >= level_db ? 4 : 0) | (d >= level_db ? 8 : 0);
      if (shape === 0 || shape === 15 || Number.isNaN(a + b + c + d)) continue;
      const [south, east, north, west] = [2 * k, 2 * k + 3, 2 * (k + columns), 2 * k + 1];
      const high = a + b + c + d >= 4 * level_db;
      if (shape === 1 || shape === 14) join(west, south);
      else if (shape === 2 || shape === 13) join(south, east);
      else if (shape === 4 || shape === 11) join(east, north);
      else if (shape === 8 || shape === 7) join(north, west);
      else if (shape === 3 || shape === 12) join(west, east);
      else if (shape === 6 || shape === 9) join(south, north);
      else if ((shape === 5) === high) {
        join(west, north);
        join(south, east);
      } else {
        join(west, south);
        join(east, north);
      }
    }
  }
  const add = (way: Way, edge: number) => {
    const k = edge >> 1;
    const upward = (edge & 1) === 1;
    const t = (level_db - values[k]!) / (values[upward ? k + columns : k + 1]! - values[k]!);
    const [i, j] = [k % columns, Math.floor(k / columns)];
    way.push(x0_m + (upward ? i : i + t) * spacing_m, y0_m + (upward ? j + t : j) * spacing_m);
  };
  const ways: Way[] = [];
  const walk = (start: number) => {
    const way: Way = [];
    add(way, start);
    let at = start;
    for (let to = next(at); to >= 0; to = next(at)) {
      take(at, to);
      take(to, at);
      add(way, to);
      at = to;
    }
    ways.push(way);
  };
  // Open ways first, from their ends; what is left are rings.
  for (const edge of touched) if ((links[2 * edge] === 0) !== (links[2 * edge + 1] === 0)) walk(edge);
  for (const edge of touched) if (next(edge) >= 0) walk(edge);
  return ways;
}
