/**
 * Many symbols at once. A browser moves some hundreds of drawn elements in a picture's time, and each symbol is a handful: from
 * so many loudspeakers on, symbols and cable are drawn on one canvas, and what a hand is on is found by its place. What is chosen
 * stays an element, so that a drag moves that alone.
 */
import type { JobDocument, Thing } from '../api/document';
import type { Catalogue } from '../api/shapes';
import { boxOf, distance, onSegment, type Box, type Point } from '../lib/geometry';
import { nearEach } from '../lib/near';
import { symbolOf, type SymbolName } from './symbols';
import { runWay } from './ways';

/** More loudspeakers than this are a crowd. */
export const MANY = 150;

export const isCrowd = (doc: Pick<JobDocument, 'loudspeakers'>) =>
  Object.keys(doc.loudspeakers).length > MANY;

/** Tables whose things are symbols of a crowd, in the order they are drawn. */
const TABLES = ['marks', 'passages', 'stubs', 'racks', 'joints', 'loudspeakers'] as const;
export const CROWDED: ReadonlySet<string> = new Set([...TABLES, 'lines']);

/** A symbol where it stands. */
export interface Stand {
  thing: Thing;
  at: Point;
  /** None for the second of two back to back, which the symbol of the first stands for. */
  symbol: SymbolName | null;
  bearing: number;
  /** Line of a loudspeaker: what it is coloured by. */
  line: string | null;
  pinned: boolean;
  /** Whether it is chosen, where too much is to be drawn apart. */
  chosen: boolean;
  /** Whether it is no part of what is looked at. */
  faint: boolean;
}

/** A stretch of cable. */
export interface Cable {
  line: string;
  run: string;
  way: Point[];
  faint: boolean;
}

/** Loudspeakers that stand too near to each other to be told apart from so far away. */
export interface Cluster {
  at: Point;
  count: number;
  box: Box;
}

export interface Crowd {
  stands: readonly Stand[];
  cables: readonly Cable[];
}

export const keyOf = (thing: Thing) => `${thing.table}/${thing.id}`;

/** Everything of a crowd but what is chosen, which is drawn apart unless it is a crowd itself. `seen`: what is looked at. */
export function crowdOf(
  doc: JobDocument,
  catalogue: Catalogue | null,
  chosen: ReadonlySet<string>,
  seen: (thing: Thing) => boolean,
): Crowd {
  const apart = apartOf(chosen);
  const near = nearEach(doc.loudspeakers);
  const fixed = { marks: 'mark', passages: 'passage', stubs: 'stub', racks: 'rack' } as const;
  const stands: Stand[] = [];
  for (const table of TABLES) {
    for (const [id, it] of Object.entries(doc[table] ?? {})) {
      const thing: Thing = { table, id };
      if (apart.has(keyOf(thing))) continue;
      const isChosen = chosen.has(keyOf(thing));
      const faint = !isChosen && !seen(thing);
      const plain = {
        thing,
        at: it.position,
        bearing: 0,
        line: null,
        pinned: false,
        chosen: isChosen,
        faint,
      };
      if (table === 'loudspeakers') {
        const l = doc.loudspeakers[id]!;
        const symbol = symbolOf({ loudspeakers: near(id) }, catalogue, id);
        stands.push({ ...plain, symbol, bearing: l.bearing, line: l.line, pinned: l.pinned });
      } else if (table === 'joints') {
        stands.push({ ...plain, symbol: doc.joints[id]!.kind === 'box' ? 'joint-box' : 'joint-buried' });
      } else stands.push({ ...plain, symbol: fixed[table] });
    }
  }
  const cables: Cable[] = [];
  for (const [line, l] of Object.entries(doc.lines)) {
    if (apart.has(`lines/${line}`)) continue;
    const faint = !seen({ table: 'lines', id: line });
    for (const [run, r] of Object.entries(l.runs)) {
      const way = runWay(doc, l, r);
      if (way) cables.push({ line, run, way, faint });
    }
  }
  return { stands, cables };
}

const NONE: ReadonlySet<string> = new Set();
/** What of the chosen is drawn apart: all of it, or nothing of a crowd. */
export const apartOf = (chosen: ReadonlySet<string>) => (chosen.size > MANY ? NONE : chosen);

const samePoint = (p: Point, q: Point) => p[0] === q[0] && p[1] === q[1];
const sameStand = (a: Stand, b: Stand) =>
  a.thing.id === b.thing.id &&
  a.thing.table === b.thing.table &&
  samePoint(a.at, b.at) &&
  a.symbol === b.symbol &&
  a.bearing === b.bearing &&
  a.line === b.line &&
  a.pinned === b.pinned &&
  a.chosen === b.chosen &&
  a.faint === b.faint;
const sameCable = (a: Cable, b: Cable) =>
  a.line === b.line &&
  a.run === b.run &&
  a.faint === b.faint &&
  a.way.length === b.way.length &&
  a.way.every((p, i) => samePoint(p, b.way[i]!));

/** The crowd of before where nothing of it has changed: then it is not drawn again. */
export function unchanged(before: Crowd | null, now: Crowd): Crowd {
  const same =
    before !== null &&
    before.stands.length === now.stands.length &&
    before.cables.length === now.cables.length &&
    before.stands.every((s, i) => sameStand(s, now.stands[i]!)) &&
    before.cables.every((c, i) => sameCable(c, now.cables[i]!));
  return same ? before : now;
}

/** Side of the squares clusters gather in, px: about two symbols. */
const SQUARE_PX = 48;
/** Fewer than this are drawn one by one, one over the other if need be. */
const LEAST = 4;

/**
 * What is drawn at so many pixels per metre: symbols one by one, and clusters. Squares lie on the ground and have sides of a
 * power of two, so that moving the plan changes no cluster and zooming changes them in steps.
 */
export function gathered(stands: readonly Stand[], k: number, scale: number) {
  const side_m = 2 ** Math.round(Math.log2((SQUARE_PX * scale) / k));
  const squares = new Map<string, Stand[]>();
  for (const stand of stands) {
    if (stand.thing.table !== 'loudspeakers' || stand.faint || stand.chosen) continue;
    const [i, j] = stand.at.map((u) => Math.floor(u / side_m));
    const square = `${i} ${j}`;
    const here = squares.get(square);
    if (here) here.push(stand);
    else squares.set(square, [stand]);
  }
  const clusters: Cluster[] = [];
  const inside = new Set<Stand>();
  for (const here of squares.values()) {
    if (here.length < LEAST) continue;
    const sum = here.reduce((s, { at }) => [s[0]! + at[0], s[1]! + at[1]], [0, 0]);
    clusters.push({
      at: [sum[0]! / here.length, sum[1]! / here.length],
      count: here.length,
      box: boxOf(here.map((s) => s.at))!,
    });
    for (const stand of here) inside.add(stand);
  }
  return { alone: stands.filter((s) => !inside.has(s)), clusters };
}

/** How far from the middle of its symbol a thing is taken, px at its usual size: as drawn on the plan. */
const TOUCH_PX: Partial<Record<Thing['table'], number>> = { loudspeakers: 22, racks: 20 };
const USUAL_TOUCH_PX = 18;
/** Half the breadth of the band in which cable is taken, px on a usual screen. */
const GRAB_PX = 9;
/** Radius of the disc of a cluster, px on a usual screen. */
export const CLUSTER_PX = 15;

/** What is at a place, uppermost first; of those that lie alike the nearest first. Faint things are not taken. */
export function standsAt(alone: readonly Stand[], at: Point, k: number, size: number): Thing[] {
  const found: { stand: Stand; far_m: number; level: number }[] = [];
  for (const stand of alone) {
    if (stand.faint) continue;
    const far_m = distance(stand.at, at);
    const reach_m = ((TOUCH_PX[stand.thing.table] ?? USUAL_TOUCH_PX) * size) / k;
    if (far_m <= reach_m)
      found.push({ stand, far_m, level: TABLES.indexOf(stand.thing.table as (typeof TABLES)[number]) });
  }
  found.sort((a, b) => b.level - a.level || a.far_m - b.far_m);
  return found.map(({ stand }) => stand.thing);
}

/** The cable at a place, the nearest first, one for each line. */
export function cablesAt(cables: readonly Cable[], at: Point, k: number, scale: number): Cable[] {
  const reach_m = (GRAB_PX * scale) / k;
  const nearest = new Map<string, { cable: Cable; far_m: number }>();
  for (const cable of cables) {
    if (cable.faint) continue;
    for (let i = 0; i + 1 < cable.way.length; i++) {
      const far_m = distance(at, onSegment(at, cable.way[i]!, cable.way[i + 1]!));
      if (far_m <= reach_m && far_m < (nearest.get(cable.line)?.far_m ?? Infinity))
        nearest.set(cable.line, { cable, far_m });
    }
  }
  return [...nearest.values()].sort((a, b) => a.far_m - b.far_m).map(({ cable }) => cable);
}

/** The cluster at a place, if there is one. */
export function clusterAt(clusters: readonly Cluster[], at: Point, k: number, scale: number): Cluster | null {
  return clusters.find((c) => distance(c.at, at) * k <= CLUSTER_PX * scale) ?? null;
}
