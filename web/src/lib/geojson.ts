/**
 * GeoJSON (RFC 7946) of a site, out and in. Our own files state metres from the datum in a foreign member; all others are
 * degrees of longitude and latitude, laid flat around their middle (equirectangular; a garden is small).
 */
import type { Point } from './geometry';
import { NAMES } from './forms';
import { boxOf, tidy } from './geometry';
import type { Patch } from './pointer';
import { freeId, pointer } from './pointer';
import { say } from '../words/spoken.svelte';

const FRAME = 'metres from the datum, x east, y north';
/** Metres per degree of latitude: the meridian of the WGS 84 ellipsoid, 10 001 966 m over 90 degrees. */
const METRES_PER_DEGREE_NORTH = 111_133;
/** Metres per degree of longitude at the equator: 40 075 017 m over 360 degrees (WGS 84). */
const METRES_PER_DEGREE_EAST = 111_319;

const OUTLINES = ['areas', 'surfaces', 'buildings', 'no_go'] as const;
const LINES = ['walls', 'services', 'sleeves', 'neighbours'] as const;
const POINTS = ['racks', 'marks', 'stubs', 'loudspeakers', 'joints'] as const;

type Thing = Record<string, unknown>;
type Tables = Record<string, Record<string, Thing> | undefined>;

interface Feature {
  type: 'Feature';
  id?: string;
  properties: Thing | null;
  geometry: { type: string; coordinates: unknown } | null;
}

/** The site as a FeatureCollection, in metres. */
export function toGeoJson(resolved: Tables & { site?: Thing }): string {
  const features: Feature[] = [];
  const add = (table: string, id: string, thing: Thing, type: string, coordinates: unknown) => {
    const { outline: _o, line: _l, position: _p, points: _q, ...rest } = thing;
    const own = Object.fromEntries(Object.entries(rest).filter(([, v]) => v !== null));
    features.push({
      type: 'Feature',
      id: `${table}/${id}`,
      properties: { ...own, table, id },
      geometry: { type, coordinates },
    });
  };
  const ring = (outline: unknown) => {
    const corners = outline as Point[];
    return [[...corners, corners[0]]];
  };
  if (resolved.site?.outline) add('site', '', { outline: [] }, 'Polygon', ring(resolved.site.outline));
  for (const table of OUTLINES) {
    for (const [id, thing] of Object.entries(resolved[table] ?? {})) {
      add(table, id, thing, 'Polygon', ring(thing.outline));
    }
  }
  for (const table of LINES) {
    for (const [id, thing] of Object.entries(resolved[table] ?? {})) {
      if ((thing.line as Point[] | undefined)?.length) add(table, id, thing, 'LineString', thing.line);
      else if ((thing.points as Point[] | undefined)?.length)
        add(table, id, thing, 'MultiPoint', thing.points);
    }
  }
  for (const table of POINTS) {
    for (const [id, thing] of Object.entries(resolved[table] ?? {}))
      add(table, id, thing, 'Point', thing.position);
  }
  return JSON.stringify({ type: 'FeatureCollection', coordinates_in: FRAME, features }, null, 1);
}

/** Why a file cannot be taken, in a sentence. */
export class NotGeoJson extends Error {}

/** What an import would add: the patch, and what was left out with the reason. */
export interface Imported {
  patch: Patch;
  added: number;
  left: string[];
  /** What things cannot be without and the file does not say, and so begins as is usual; a sentence part for each. */
  assumed: string[];
}

/** The things of a GeoJSON file as an edit. Features without a table of ours become `surfaces`, `walls` or `marks`. */
export function fromGeoJson(text: string, document: Tables): Imported {
  let root: { type?: string; features?: Feature[]; coordinates_in?: string };
  try {
    root = JSON.parse(text);
  } catch {
    throw new NotGeoJson(say('the file is not JSON'));
  }
  if (root.type !== 'FeatureCollection' || !Array.isArray(root.features)) {
    throw new NotGeoJson(say('the file is JSON, but not a GeoJSON FeatureCollection'));
  }
  const flat = root.coordinates_in === FRAME ? tidy : flattener(root.features);
  const patch: Patch = [];
  const left: string[] = [];
  const grown: Tables = {};
  const begun: Begun[] = [];
  for (const [n, feature] of root.features.entries()) {
    const geometry = feature?.geometry;
    const shape = geometry && shapeOf(geometry, flat);
    if (!shape) {
      const number = n + 1;
      left.push(
        geometry
          ? say('feature {number}: a {type} cannot be used', { number, type: geometry.type })
          : say('feature {number}: it has no geometry', { number }),
      );
      continue;
    }
    const own = { ...(feature.properties ?? {}) };
    const table = tableFor(own.table, shape.kind);
    if (own.table === 'site' && shape.kind === 'outline') {
      const site = document.site ?? grown.site;
      patch.push(
        site
          ? { op: 'add', path: '/site/outline', value: shape.value }
          : { op: 'add', path: '/site', value: { outline: shape.value } },
      );
      grown.site ??= {};
      continue;
    }
    const wanted = typeof own.id === 'string' && /^[\w.-]+$/.test(own.id) ? own.id : table.prefix;
    const taken = { ...(document[table.name] ?? {}), ...(grown[table.name] ?? {}) };
    const id = freeId(taken, wanted, true);
    const thing: Thing = { ...table.needs };
    for (const key of KEPT[table.name] ?? [])
      if (own[key] !== undefined && own[key] !== null) thing[key] = own[key];
    begun.push(...unsaid(table.needs, own).map((said) => ({ table: table.name, said })));
    thing[shape.key] = shape.value;
    if (!document[table.name] && !grown[table.name])
      patch.push({ op: 'add', path: pointer(table.name), value: {} });
    (grown[table.name] ??= {})[id] = thing;
    patch.push({ op: 'add', path: pointer(table.name, id), value: thing });
  }
  const added = patch.filter((o) => o.path.split('/').length > 2).length;
  return { patch, added, left, assumed: assumedOf(begun) };
}

/** A value that a thing of a table began with though nobody said it. */
interface Begun {
  table: string;
  said: string;
}

/** Values that things begin with where the file is silent, as forms call them. */
const SAID_AS: Record<string, string> = {
  kind: 'Kind',
  target: 'Level wanted',
  height: 'Height',
  inside_diameter: 'Inside diameter',
  day: 'Limit by day',
};

const unsaid = (needs: Thing, own: Thing): string[] =>
  Object.entries(needs).flatMap(([key, value]) => {
    if (!(key in SAID_AS) || (own[key] ?? null) !== null) return [];
    const label = say(SAID_AS[key]!);
    return `${label[0]!.toLowerCase()}${label.slice(1)} ${say(String(value))}`;
  });

/** The same of several things once, with how many they are. */
function assumedOf(begun: readonly Begun[]): string[] {
  const told = new Map<string, Begun & { count: number }>();
  for (const each of begun) {
    const key = `${each.table} ${each.said}`;
    told.set(key, { ...each, count: (told.get(key)?.count ?? 0) + 1 });
  }
  return [...told.values()].map(({ table, said, count }) => {
    const [one, all] = NAMES[table]!;
    return count === 1
      ? say('{figure} at 1 {what}', { figure: said, what: say(one) })
      : say('{figure} at {count} {what}', { figure: said, count, what: say(all).toLowerCase() });
  });
}

/** Plain properties that are taken over from a file, by table. */
const KEPT: Record<string, string[]> = {
  areas: ['name', 'listeners', 'target', 'within', 'bass', 'programme'],
  surfaces: ['name', 'kind', 'flow_class', 'elevation', 'laying', 'loudspeakers'],
  buildings: ['name', 'height', 'absorption', 'clip', 'loudspeakers', 'holes'],
  no_go: ['reason'],
  walls: ['name', 'height', 'kind', 'absorption', 'clip', 'loudspeakers'],
  services: ['kind', 'depth', 'clearance'],
  sleeves: ['name', 'inside_diameter', 'holds'],
  neighbours: ['name', 'height', 'day', 'night', 'day_63hz', 'night_63hz'],
  racks: ['name', 'height', 'mains', 'circuit'],
  marks: ['name'],
};

type ShapeKind = 'outline' | 'line' | 'point' | 'points';

function tableFor(named: unknown, kind: ShapeKind): { name: string; prefix: string; needs: Thing } {
  const fits: Record<ShapeKind, Record<string, Thing>> = {
    outline: {
      surfaces: { kind: 'lawn' },
      areas: { target: '65 dBA' },
      buildings: { height: '6 m' },
      no_go: {},
    },
    line: {
      walls: { height: '1.8 m' },
      services: { kind: 'unknown' },
      sleeves: { inside_diameter: '50 mm' },
      neighbours: { day: '50 dBA' },
    },
    point: { marks: { name: say('Imported mark') }, racks: {} },
    points: { neighbours: { day: '50 dBA' } },
  };
  const offered = fits[kind];
  const name = typeof named === 'string' && named in offered ? named : Object.keys(offered)[0]!;
  return { name, prefix: name.replace(/s$/, '').replace('_', '-'), needs: offered[name]! };
}

function shapeOf(
  geometry: { type: string; coordinates: unknown },
  flat: (p: Point) => Point,
): { kind: ShapeKind; key: string; value: unknown } | null {
  const list = geometry.coordinates as Point[];
  try {
    switch (geometry.type) {
      case 'Polygon': {
        const ring = (geometry.coordinates as Point[][])[0]!.map(flat);
        return ring.length < 4 ? null : { kind: 'outline', key: 'outline', value: ring.slice(0, -1) };
      }
      case 'LineString':
        return list.length < 2 ? null : { kind: 'line', key: 'line', value: list.map(flat) };
      case 'MultiPoint':
        return { kind: 'points', key: 'points', value: list.map(flat) };
      case 'Point':
        return { kind: 'point', key: 'position', value: flat(geometry.coordinates as Point) };
      default:
        return null;
    }
  } catch {
    return null;
  }
}

/** Degrees to metres around the south-west corner of everything in the file. */
function flattener(features: Feature[]): (p: Point) => Point {
  const all: Point[] = [];
  const gather = (c: unknown): void => {
    if (!Array.isArray(c)) return;
    if (typeof c[0] === 'number' && typeof c[1] === 'number') all.push([c[0], c[1]]);
    else c.forEach(gather);
  };
  features.forEach((f) => gather(f?.geometry?.coordinates));
  const box = boxOf(all);
  if (!box) return tidy;
  if (
    Math.abs(box.min[0]) > 180 ||
    Math.abs(box.max[0]) > 180 ||
    Math.abs(box.min[1]) > 90 ||
    Math.abs(box.max[1]) > 90
  ) {
    throw new NotGeoJson(say('the coordinates are neither degrees nor marked as metres from the datum'));
  }
  const shrink = Math.cos(((box.min[1] + box.max[1]) / 2) * (Math.PI / 180));
  return (p) =>
    tidy([
      (p[0] - box.min[0]) * METRES_PER_DEGREE_EAST * shrink,
      (p[1] - box.min[1]) * METRES_PER_DEGREE_NORTH,
    ]);
}
