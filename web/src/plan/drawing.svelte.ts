/** Drawing on the plan: which tool, the points so far, where the next would go. */
import type { JobDocument, Table, Thing } from '../api/document';
import { crossings, saidCrossing } from '../lib/crossing';
import { bearing, distance, polar, snap, tidy, type Point, type SnapKind } from '../lib/geometry';
import { freeTag, pointer, put, type Patch } from '../lib/pointer';
import { prefs } from '../state/prefs.svelte';
import { gridM } from './grid';
import type { Made, Tool } from './tools';
import { snapWays } from './ways';

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
  /** Why it cannot end as it is, in words. */
  problem = $state<string | null>(null);
  /** Whether it was ended and is on its way. */
  busy = $state(false);
  /** Corner that a hand has taken hold of. */
  #held: { i: number; moved: boolean } | null = null;

  /** Corners with the one that would come next. */
  readonly way = $derived.by(() => {
    const next = this.cursor?.at;
    const seen = this.points.some((p) => next && distance(p, next) < 1e-6);
    return next && !seen && !this.problem ? [...this.points, next] : this.points;
  });
  /** Sides of an outline that meet, shown while it is drawn; with the side that closes it once it was to end. */
  readonly crossed = $derived(
    this.tool?.shape === 'outline' ? crossings(this.way, this.problem !== null && this.way.length > 2) : [],
  );
  /** The first of them in words. */
  readonly saidCrossed = $derived(
    this.crossed[0] ? `${saidCrossing(this.crossed[0], this.way.length)}.` : null,
  );

  /** Takes a tool; `at` is where a cross hair moved by keys begins. */
  start(tool: Tool | null, at: Point | null = null) {
    this.tool = tool;
    this.points = [];
    this.cursor = at && { at, kind: 'free' };
    this.byKeys = at !== null;
    this.problem = null;
    this.busy = false;
    this.#held = null;
  }

  /** Takes hold of a corner that is set. */
  hold(i: number) {
    this.#held = this.points[i] ? { i, moved: false } : null;
  }

  /** Moves the corner that is held; returns whether one is. */
  move(at: Point, doc: JobDocument, within_m: number): boolean {
    const held = this.#held;
    if (!held) return false;
    const place = snap(at, within_m, snapWays(doc, null), null, gridM(prefs.unit));
    // A press that hardly moves is a click.
    if (!held.moved && distance(at, this.points[held.i]!) < within_m / 2) return true;
    held.moved = true;
    this.problem = null;
    this.cursor = null;
    this.points = this.points.map((p, i) => (i === held.i ? tidy(place.at) : p));
    return true;
  }

  /** Lets go; returns whether a corner was moved. */
  letGo(): boolean {
    const moved = this.#held?.moved ?? false;
    this.#held = null;
    return moved;
  }

  /** Whether the outline can end as it is; says why not. */
  mayEnd(): boolean {
    const [first] = this.tool?.shape === 'outline' ? crossings(this.points, true) : [];
    this.problem = first
      ? `${saidCrossing(first, this.points.length)}, and an outline may not. Drag a corner elsewhere, or take the last ones back with Backspace.`
      : null;
    return !first;
  }

  hover(at: Point, doc: JobDocument, within_m: number) {
    const own = this.points.length > 2 ? [{ way: [this.points[0]!], closed: false }] : [];
    this.cursor = snap(at, within_m, [...own, ...snapWays(doc, null)], this.last, gridM(prefs.unit));
  }

  /** Adds a point; returns whether the shape is complete. */
  add(at: Point): boolean {
    const tool = this.tool;
    if (!tool || this.busy) return false;
    const first = this.points[0];
    if (first && this.points.length >= 3 && tool.shape === 'outline' && distance(first, at) < 1e-6)
      return true;
    if (this.last && distance(this.last, at) < 1e-6) return false;
    this.problem = null;
    this.points = [...this.points, tidy(at)];
    return tool.most !== undefined && this.points.length >= tool.most;
  }

  /** Where a typed length and bearing lead from the last point. */
  to(length_m: number, bearing_deg: number): Point | null {
    return this.last && polar(this.last, length_m, bearing_deg);
  }

  back() {
    this.problem = null;
    this.points = this.points.slice(0, -1);
  }

  get complete() {
    return this.tool !== null && this.points.length >= this.tool.least;
  }

  /** The edit that puts what was drawn into the document, and what it makes; a sentence when it cannot be made yet. */
  patch(
    document: Record<string, unknown>,
    of: Omit<Made, 'points'>,
  ): { patch: Patch; thing: Thing } | string | null {
    const tool = this.tool;
    if (!tool || !this.complete || ['measure', 'scale', 'datum'].includes(tool.table)) return null;
    if (tool.table === 'site') {
      return { patch: put(document, '/site/outline', this.points), thing: { table: 'site', id: '' } };
    }
    const table = tool.table as Table;
    const needs = typeof tool.needs === 'function' ? tool.needs({ ...of, points: this.points }) : tool.needs;
    if (typeof needs === 'string') return needs;
    const id = freeTag(document, table, tool.prefix);
    const geometry = tool.shape === 'position' ? this.points[0] : this.points;
    const value = { ...needs, [tool.shape]: geometry };
    const before = table === 'racks' ? stubsOfTheOnlyRack(of.doc) : [];
    return { patch: [...before, ...put(document, `/${table}/${id}`, value)], thing: { table, id } };
  }
}

/** Stub-outs that name no rack because there is only one: with a second they have to. */
function stubsOfTheOnlyRack({ racks, stubs }: JobDocument): Patch {
  const [only, ...more] = Object.keys(racks);
  if (only === undefined || more.length) return [];
  const nameless = Object.entries(stubs).filter(([, stub]) => stub.rack === null);
  return nameless.map(([id]) => ({ op: 'add', path: pointer('stubs', id, 'rack'), value: only }));
}
