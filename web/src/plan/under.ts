/** What of a crowd is under a hand, among what is drawn as elements. */
import { sameThing, type Thing } from '../api/document';
import type { Box, Point } from '../lib/geometry';
import { CROWDED, cablesAt, clusterAt, standsAt, type Cluster, type Crowd, type Stand } from './crowd';

interface Hit {
  thing: Thing | null;
  /** The run, where it is cable. */
  run: string | null;
}

/** Whether a thing is a symbol: it lies over cable and over all that is drawn on the ground. */
const isSymbol = ({ table }: Thing) => table !== 'lines' && CROWDED.has(table);

export class Under {
  constructor(
    readonly crowd: Crowd,
    readonly shown: { alone: readonly Stand[]; clusters: readonly Cluster[] },
    readonly k: number,
    readonly size: number,
    readonly scale: number,
    /** Whether cable is drawn. */
    readonly cables: boolean,
  ) {}

  #symbols = (at: Point) => standsAt(this.shown.alone, at, this.k, this.size);
  #cables = (at: Point) => (this.cables ? cablesAt(this.crowd.cables, at, this.k, this.scale) : []);

  /** What a hand takes first, where it is also on something drawn as an element. */
  first(drawn: Hit, at: Point): Hit {
    if (drawn.thing && isSymbol(drawn.thing)) return drawn;
    const [symbol] = this.#symbols(at);
    if (symbol) return { thing: symbol, run: null };
    if (drawn.thing?.table === 'lines') return drawn;
    const [cable] = this.#cables(at);
    return cable ? { thing: { table: 'lines', id: cable.line }, run: cable.run } : drawn;
  }

  /** Everything at a place, uppermost first, with what is drawn there as elements. */
  among(drawn: readonly Thing[], at: Point): Thing[] {
    const lines = this.#cables(at).map((cable): Thing => ({ table: 'lines', id: cable.line }));
    const all = [
      ...drawn.filter(isSymbol),
      ...this.#symbols(at),
      ...drawn.filter((t) => t.table === 'lines'),
      ...lines,
      ...drawn.filter((t) => !CROWDED.has(t.table)),
    ];
    return all.filter((t, i) => all.findIndex((u) => sameThing(t, u)) === i);
  }

  cluster(at: Point): Cluster | null {
    return clusterAt(this.shown.clusters, at, this.k, this.scale);
  }
}

/** Nearer than this, one loudspeaker fills the plan and nothing is seen around it, metres. */
const LEAST_M = 12;

/** A box that is at least so long each way. */
export function roomy({ min, max }: Box): Box {
  const more = [0, 1].map((i) => Math.max(0, LEAST_M - (max[i]! - min[i]!)) / 2);
  return { min: [min[0] - more[0]!, min[1] - more[1]!], max: [max[0] + more[0]!, max[1] + more[1]!] };
}
