/** Loudspeakers by where they stand, so that what shares a place with one is found without going through all. */
import type { Loudspeaker } from '../api/document';

/** Side of the squares they are kept in, metres: far above what one stake measures, far below what loudspeakers stand apart. */
const SQUARE_M = 0.5;

export type Loudspeakers = Readonly<Record<string, Loudspeaker>>;

/** For every loudspeaker those within half a metre of it and maybe some more, itself among them, in the order of the document. */
export function nearEach(loudspeakers: Loudspeakers): (id: string) => Record<string, Loudspeaker> {
  const square = (u: number) => Math.floor(u / SQUARE_M);
  const squares = new Map<string, [number, string][]>();
  Object.entries(loudspeakers).forEach(([id, { position }], place) => {
    const key = `${square(position[0])} ${square(position[1])}`;
    const here = squares.get(key);
    if (here) here.push([place, id]);
    else squares.set(key, [[place, id]]);
  });
  return (id) => {
    const own = loudspeakers[id];
    if (!own) return {};
    const [x, y] = own.position.map(square) as [number, number];
    const found: [number, string][] = [];
    for (let i = x - 1; i <= x + 1; i++)
      for (let j = y - 1; j <= y + 1; j++) found.push(...(squares.get(`${i} ${j}`) ?? []));
    found.sort((a, b) => a[0] - b[0]);
    return Object.fromEntries(found.map(([, other]) => [other, loudspeakers[other]!]));
  };
}
