/** Lines of equal level by marching squares with straight-line interpolation (the usual method; saddles split by the cell's mean). */
import type { Frame } from './frame';

export type Way = [number, number][];

/** The contour of one level as ways in metres; closed ways end where they begin. Cells with a gap at a corner are left out. */
export function contour(frame: Frame, values: Float32Array, level_db: number): Way[] {
  const { columns, rows } = frame;
  // Each piece joins two cell edges; an edge is known by its lower-left grid point and direction.
  const joined = new Map<number, number[]>();
  const horizontal = (i: number, j: number) => 2 * (j * columns + i);
  const vertical = (i: number, j: number) => 2 * (j * columns + i) + 1;
  const join = (a: number, b: number) => {
    for (const [from, to] of [
      [a, b],
      [b, a],
    ] as const) {
      const list = joined.get(from);
      if (list) list.push(to);
      else joined.set(from, [to]);
    }
  };
  for (let j = 0; j < rows - 1; j++) {
    for (let i = 0; i < columns - 1; i++) {
      const k = j * columns + i;
      const [a, b, c, d] = [values[k]!, values[k + 1]!, values[k + columns + 1]!, values[k + columns]!];
      if (Number.isNaN(a + b + c + d)) continue;
      const shape =
        (a >= level_db ? 1 : 0) | (b >= level_db ? 2 : 0) | (c >= level_db ? 4 : 0) | (d >= level_db ? 8 : 0);
      if (shape === 0 || shape === 15) continue;
      const [south, east, north, west] = [
        horizontal(i, j),
        vertical(i + 1, j),
        horizontal(i, j + 1),
        vertical(i, j),
      ];
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
  const point = (edge: number): [number, number] => {
    const k = edge >> 1;
    const [i, j] = [k % columns, Math.floor(k / columns)];
    const other = edge & 1 ? k + columns : k + 1;
    const t = (level_db - values[k]!) / (values[other]! - values[k]!);
    const [u, v] = edge & 1 ? [0, t] : [t, 0];
    return [frame.x0_m + (i + u) * frame.spacing_m, frame.y0_m + (j + v) * frame.spacing_m];
  };
  const take = (from: number, to: number) => {
    const list = joined.get(from)!;
    list.splice(list.indexOf(to), 1);
  };
  const ways: Way[] = [];
  const walk = (start: number) => {
    const way: Way = [point(start)];
    let at = start;
    for (;;) {
      const next = joined.get(at)?.[0];
      if (next === undefined) break;
      take(at, next);
      take(next, at);
      way.push(point(next));
      at = next;
    }
    if (way.length > 1) ways.push(way);
  };
  // Open ways first, from their ends; what is left are rings.
  for (const [edge, list] of joined) if (list.length === 1) walk(edge);
  for (const [edge, list] of joined) while (list.length > 0) walk(edge);
  return ways;
}
