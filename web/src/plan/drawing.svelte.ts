/** Drawing on the plan: which tool, in which form, the points so far, where the next would go. */
import type { JobDocument, Table, Thing } from '../api/document';
import { crossings, saidCrossing } from '../lib/crossing';
import { bearing, distance, minus, polar, tidy, type Point } from '../lib/geometry';
import { firstName } from '../lib/naming';
import { freeTag, put, type Patch } from '../lib/pointer';
import { circle, curve, opposite, rectangle } from '../lib/rounds';
import { bearingOfSideAt, snap, type Snapped } from '../lib/snapping';
import { prefs } from '../state/prefs.svelte';
import { say } from '../words/spoken.svelte';
import { gridM, toStep } from './grid';
import { stubsOfTheOnlyRack } from './only-rack';
import type { Form, Made, Tool } from './tools';
import { snapWays } from './ways';

/** Forms that two points make. */
const TWO_POINTS: readonly Form[] = ['rectangle', 'circle'];

const free = (at: Point): Snapped => ({ at, kind: 'free', said: [], guides: [] });

export class Drawing {
  tool = $state.raw<Tool | null>(null);
  points = $state.raw<Point[]>([]);
  cursor = $state.raw<Snapped | null>(null);
  /** The form outlines are drawn in: kept from one to the next. */
  form = $state<Form>('corners');
  /** A figure begun on the plan, on its way into the box for lengths. */
  typed = $state<string | null>(null);
  /** What a side of a rectangle runs along, degrees. */
  along_deg = $state(90);
  /** What each tool draws, where there are kinds of it. */
  #kinds = $state.raw<Record<string, string>>({});

  /** The form of what is drawn now. */
  readonly as = $derived.by((): Form => {
    const drawn = this.tool && !['measure', 'scale', 'datum'].includes(this.tool.table);
    if (drawn && this.tool!.shape === 'outline') return this.form;
    return drawn && this.tool!.shape === 'line' && this.form === 'curve' ? 'curve' : 'corners';
  });
  readonly last = $derived(this.points.at(-1) ?? null);
  /** Length and bearing from the last point to the cursor. */
  readonly leg = $derived(
    this.last && this.cursor
      ? { length_m: distance(this.last, this.cursor.at), bearing_deg: bearing(this.last, this.cursor.at) }
      : null,
  );
  /** Length and width of the rectangle up to the cursor: along its bearing, and to the right of that. */
  readonly sizes = $derived.by(() => {
    if (!this.last || !this.cursor) return null;
    const [u, d] = [polar([0, 0], 1, this.along_deg), minus(this.cursor.at, this.last)];
    return { length_m: d[0] * u[0] + d[1] * u[1], width_m: d[0] * u[1] - d[1] * u[0] };
  });
  readonly kind = $derived(this.tool?.kinds ? (this.#kinds[this.tool.key] ?? this.tool.kinds[0]!) : null);

  /** Whether the cross hair is moved by keys. */
  byKeys = $state(false);
  /** Why it cannot end as it is, in words. */
  problem = $state<string | null>(null);
  /** Whether it was ended and is on its way. */
  busy = $state(false);
  /** Corner that a hand has taken hold of. */
  #held: { i: number; moved: boolean } | null = null;

  /** Points with the one that would come next. */
  readonly #clicks = $derived.by(() => {
    const next = this.cursor?.at;
    const seen = this.points.some((p) => next && distance(p, next) < 1e-6);
    return next && !seen && !this.problem ? [...this.points, next] : this.points;
  });
  /** The corners of what these points make. */
  readonly way = $derived(this.#made(this.#clicks) ?? this.#clicks);
  /** Whether it is shown closed. */
  readonly closed = $derived(
    this.tool?.shape === 'outline' &&
      (this.problem !== null || (this.as !== 'corners' && this.way.length > 2)),
  );
  /** Sides of an outline that meet, shown while it is drawn; with the side that closes it once it was to end. */
  readonly crossed = $derived(
    this.tool?.shape === 'outline' ? crossings(this.way, this.closed && this.way.length > 2) : [],
  );
  /** The first of them in words. */
  readonly saidCrossed = $derived(
    this.crossed[0] ? `${this.#saidOf(this.crossed[0], this.way.length)}.` : null,
  );

  #saidOf(crossing: Parameters<typeof saidCrossing>[0], corners: number): string {
    return this.as === 'curve' ? say('The curve meets itself') : saidCrossing(crossing, corners);
  }

  /** The corners that points make in the form that is drawn; `null` where they make nothing yet. */
  #made(points: readonly Point[]): Point[] | null {
    const [first, second] = points;
    const outline = this.tool?.shape === 'outline';
    switch (this.as) {
      case 'rectangle':
        return first && second ? rectangle(first, second, this.along_deg) : null;
      case 'circle':
        return first && second ? circle(first, distance(first, second)) : null;
      case 'curve':
        return curve(points, outline && points.length > 2);
      default:
        return [...points];
    }
  }

  /** Takes a tool; `at` is where a cross hair moved by keys begins. */
  start(tool: Tool | null, at: Point | null = null) {
    this.tool = tool;
    this.points = [];
    this.cursor = at && free(at);
    this.typed = null;
    this.along_deg = 90;
    this.byKeys = at !== null;
    this.problem = null;
    this.busy = false;
    this.#held = null;
  }

  /** Draws in another form; what fits it of the points stays. */
  inForm(form: Form) {
    const was = this.as;
    this.form = form;
    if (was !== this.as && (TWO_POINTS.includes(was) || TWO_POINTS.includes(this.as))) this.points = [];
    this.problem = null;
  }

  /** Draws another kind of what the tool draws. */
  ofKind(kind: string) {
    if (this.tool) this.#kinds = { ...this.#kinds, [this.tool.key]: kind };
  }

  /** The cross hair, moved by keys. */
  aim(at: Point) {
    this.byKeys = true;
    this.cursor = free(at);
  }

  /** Takes hold of a corner that is set. */
  hold(i: number) {
    this.#held = this.points[i] ? { i, moved: false } : null;
  }

  /** Moves the corner that is held; returns whether one is. */
  move(at: Point, doc: JobDocument, within_m: number): boolean {
    const held = this.#held;
    if (!held) return false;
    const place = this.tool?.exact
      ? free(at)
      : snap(at, within_m, snapWays(doc, null), null, gridM(prefs.unit));
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
    const points = this.#made(this.points) ?? [];
    const [first] = this.tool?.shape === 'outline' ? crossings(points, true) : [];
    this.problem = first
      ? say(
          '{crossing}, and an outline may not. Drag a corner elsewhere, or take the last ones back with Backspace.',
          { crossing: this.#saidOf(first, points.length) },
        )
      : null;
    return !first;
  }

  hover(at: Point, doc: JobDocument, within_m: number) {
    if (this.tool?.exact) {
      this.cursor = free(at);
      return;
    }
    const outline = this.tool?.shape === 'outline';
    const own = this.points.length > 2 ? [{ way: [this.points[0]!], closed: false }] : [];
    // Round edges have no sides to be square with.
    const before = this.as === 'corners' ? { points: this.points, closes: outline } : null;
    const near = snap(at, within_m, [...own, ...snapWays(doc, null)], before, gridM(prefs.unit));
    this.cursor = near.kind === 'grid' ? { ...near, at: this.#round(at) ?? near.at } : near;
  }

  /** The place that makes a rectangle or circle of round lengths. */
  #round(at: Point): Point | null {
    const first = this.points[0];
    if (!first || !TWO_POINTS.includes(this.as)) return null;
    const step = gridM(prefs.unit);
    if (this.as === 'circle')
      return tidy(polar(first, toStep(distance(first, at), step), bearing(first, at)));
    const [u, d] = [polar([0, 0], 1, this.along_deg), minus(at, first)];
    const [length_m, width_m] = [d[0] * u[0] + d[1] * u[1], d[0] * u[1] - d[1] * u[0]];
    return tidy(opposite(first, toStep(length_m, step), toStep(width_m, step), this.along_deg));
  }

  /** Adds a point; returns whether the shape is complete. */
  add(at: Point, doc: JobDocument | null = null): boolean {
    const tool = this.tool;
    if (!tool || this.busy) return false;
    const first = this.points[0];
    if (first && TWO_POINTS.includes(this.as)) return this.#second(first, at);
    if (first && this.points.length >= 3 && tool.shape === 'outline' && distance(first, at) < 1e-6)
      return true;
    if (this.last && distance(this.last, at) < 1e-6) return false;
    this.problem = null;
    if (!first) this.along_deg = (doc && bearingOfSideAt(at, snapWays(doc, null))) ?? 90;
    this.points = [...this.points, tidy(at)];
    return tool.most !== undefined && this.points.length >= tool.most;
  }

  /** The other point of a rectangle or circle. */
  #second(first: Point, at: Point): boolean {
    const points = [first, tidy(at)];
    if (!this.#made(points)) {
      this.problem =
        this.as === 'circle'
          ? say('A circle needs a radius.')
          : say('A rectangle needs a length and a width.');
      return false;
    }
    this.problem = null;
    this.points = points;
    return true;
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
    if (this.tool === null) return false;
    if (TWO_POINTS.includes(this.as)) return this.#made(this.points) !== null;
    return this.points.length >= this.tool.least;
  }

  /** The edit that puts what was drawn into the document, and what it makes; a sentence when it cannot be made yet. */
  patch(
    document: Record<string, unknown>,
    of: Omit<Made, 'points'>,
  ): { patch: Patch; thing: Thing } | string | null {
    const tool = this.tool;
    if (!tool || !this.complete || ['measure', 'scale', 'datum'].includes(tool.table)) return null;
    const points = this.#made(this.points);
    if (!points) return null;
    if (tool.table === 'site') {
      return { patch: put(document, '/site/outline', points), thing: { table: 'site', id: '' } };
    }
    const table = tool.table as Table;
    const needs = typeof tool.needs === 'function' ? tool.needs({ ...of, points: this.points }) : tool.needs;
    if (typeof needs === 'string') return needs;
    const id = freeTag(document, table, tool.prefix);
    const geometry = tool.shape === 'position' ? points[0] : points;
    const name = firstName(document, table, this.kind);
    const value = {
      ...(name ? { name } : {}),
      ...needs,
      ...(this.kind ? { kind: this.kind } : {}),
      [tool.shape]: geometry,
    };
    const before = table === 'racks' ? stubsOfTheOnlyRack(of.doc) : [];
    return { patch: [...before, ...put(document, `/${table}/${id}`, value)], thing: { table, id } };
  }
}
