/** Drawing on the plan: which tool, the points so far, where the next would go. */
import type { JobDocument, Table, Thing } from '../api/document';
import { bearing, distance, polar, snap, tidy, type Point, type SnapKind } from '../lib/geometry';
import { freeId, put, type Patch } from '../lib/pointer';
import { snapWays } from './ways';

export type ShapeKind = 'outline' | 'line' | 'points' | 'position';

export interface Tool {
  key: string;
  label: string;
  table: Table | 'site' | 'measure' | 'scale' | 'datum';
  shape: ShapeKind;
  /** Least number of points. */
  least: number;
  /** Stops by itself at this number. */
  most?: number;
  prefix: string;
  needs: Record<string, unknown>;
  hint: string;
}

export const TOOLS: Tool[] = [
  {
    key: 'property',
    label: 'Property',
    table: 'site',
    shape: 'outline',
    least: 3,
    prefix: '',
    needs: {},
    hint: 'Click the corners of the property.',
  },
  {
    key: 'area',
    label: 'Listening area',
    table: 'areas',
    shape: 'outline',
    least: 3,
    prefix: 'area',
    needs: { target: '65 dBA', listeners: 'standing' },
    hint: 'Click the corners of the place where people listen.',
  },
  {
    key: 'surface',
    label: 'Surface',
    table: 'surfaces',
    shape: 'outline',
    least: 3,
    prefix: 'surface',
    needs: { kind: 'bed' },
    hint: 'Click the corners; then say what the ground is.',
  },
  {
    key: 'building',
    label: 'Building',
    table: 'buildings',
    shape: 'outline',
    least: 3,
    prefix: 'building',
    needs: { height: '5 m' },
    hint: 'Click the corners of the building.',
  },
  {
    key: 'wall',
    label: 'Wall or hedge',
    table: 'walls',
    shape: 'line',
    least: 2,
    prefix: 'wall',
    needs: { height: '1.8 m', kind: 'masonry' },
    hint: 'Click along the wall; Enter ends it.',
  },
  {
    key: 'neighbour',
    label: 'Neighbour',
    table: 'neighbours',
    shape: 'line',
    least: 2,
    prefix: 'neighbour',
    needs: { day: '50 dBA', night: '40 dBA' },
    hint: 'Click along the boundary or the windows; Enter ends it.',
  },
  {
    key: 'window',
    label: 'Neighbour point',
    table: 'neighbours',
    shape: 'points',
    least: 1,
    most: 1,
    prefix: 'neighbour',
    needs: { day: '50 dBA', night: '40 dBA' },
    hint: 'Click the window or balcony.',
  },
  {
    key: 'rack',
    label: 'Rack',
    table: 'racks',
    shape: 'position',
    least: 1,
    most: 1,
    prefix: 'R',
    needs: {},
    hint: 'Click where the cables leave the equipment.',
  },
  {
    key: 'service',
    label: 'Buried service',
    table: 'services',
    shape: 'line',
    least: 2,
    prefix: 'service',
    needs: { kind: 'unknown' },
    hint: 'Click along the service; Enter ends it.',
  },
  {
    key: 'sleeve',
    label: 'Sleeve',
    table: 'sleeves',
    shape: 'line',
    least: 2,
    prefix: 'sleeve',
    needs: { inside_diameter: '50 mm' },
    hint: 'Click from one end of the sleeve to the other; Enter ends it.',
  },
  {
    key: 'no-go',
    label: 'No-go place',
    table: 'no_go',
    shape: 'outline',
    least: 3,
    prefix: 'no-go',
    needs: {},
    hint: 'Click the corners of the place to keep clear.',
  },
  {
    key: 'mark',
    label: 'Mark',
    table: 'marks',
    shape: 'position',
    least: 1,
    most: 1,
    prefix: 'M',
    needs: { name: 'Fixed point' },
    hint: 'Click a corner or post that can be found again.',
  },
  {
    key: 'measure',
    label: 'Measure',
    table: 'measure',
    shape: 'line',
    least: 2,
    prefix: '',
    needs: {},
    hint: 'Click from point to point; Escape ends it.',
  },
];

const GRID_M = 0.1;

export class Drawing {
  tool = $state.raw<Tool | null>(null);
  points = $state.raw<Point[]>([]);
  cursor = $state.raw<{ at: Point; kind: SnapKind } | null>(null);
  readonly last = $derived(this.points.at(-1) ?? null);
  /** Length and bearing from the last point to the cursor. */
  readonly leg = $derived(
    this.last && this.cursor
      ? { length_m: distance(this.last, this.cursor.at), bearing_deg: bearing(this.last, this.cursor.at) }
      : null,
  );

  /** Whether the cross hair is moved by keys. */
  byKeys = $state(false);

  /** Takes a tool; `at` is where a cross hair moved by keys begins. */
  start(tool: Tool | null, at: Point | null = null) {
    this.tool = tool;
    this.points = [];
    this.cursor = at && { at, kind: 'free' };
    this.byKeys = at !== null;
  }

  hover(at: Point, doc: JobDocument, within_m: number) {
    const own = this.points.length > 2 ? [{ way: [this.points[0]!], closed: false }] : [];
    this.cursor = snap(at, within_m, [...own, ...snapWays(doc, null)], this.last, GRID_M);
  }

  /** Adds a point; returns whether the shape is complete. */
  add(at: Point): boolean {
    const tool = this.tool;
    if (!tool) return false;
    const first = this.points[0];
    if (first && this.points.length >= 3 && tool.shape === 'outline' && distance(first, at) < 1e-6)
      return true;
    if (this.last && distance(this.last, at) < 1e-6) return false;
    this.points = [...this.points, tidy(at)];
    return tool.most !== undefined && this.points.length >= tool.most;
  }

  /** Adds the point at a typed length and bearing from the last. */
  addPolar(length_m: number, bearing_deg: number): boolean {
    return this.last ? this.add(polar(this.last, length_m, bearing_deg)) : false;
  }

  back() {
    this.points = this.points.slice(0, -1);
  }

  get complete() {
    return this.tool !== null && this.points.length >= this.tool.least;
  }

  /** The edit that puts what was drawn into the document, and what it makes. */
  patch(
    document: Record<string, unknown>,
    more: Record<string, unknown> = {},
  ): { patch: Patch; thing: Thing } | null {
    const tool = this.tool;
    if (!tool || !this.complete || ['measure', 'scale', 'datum'].includes(tool.table)) return null;
    if (tool.table === 'site') {
      return { patch: put(document, '/site/outline', this.points), thing: { table: 'site', id: '' } };
    }
    const table = tool.table as Table;
    const id = freeId(document[table] as object | undefined, tool.prefix);
    const geometry = tool.shape === 'position' ? this.points[0] : this.points;
    const value = { ...tool.needs, ...more, [tool.shape]: geometry };
    return { patch: put(document, `/${table}/${id}`, value), thing: { table, id } };
  }
}
