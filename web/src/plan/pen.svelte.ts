/** A hand with a drawing tool: what presses, moves and keys on the plan do while one is taken. */
import type { JobDocument, Thing } from '../api/document';
import { words } from '../api/client';
import { distance, tidy, type Point } from '../lib/geometry';
import type { Patch } from '../lib/pointer';
import type { JobStore } from '../state/job.svelte';
import { prefs } from '../state/prefs.svelte';
import { assumed } from './assumed';
import { Drawing } from './drawing.svelte';
import { strideM } from './grid';
import type { PlanPress } from './Plan.svelte';
import { arrow } from './shaping.svelte';
import type { Tool } from './tools';
import { Twice } from './twice';

/** The plan as the pen needs it. */
interface Sheet {
  takeKeys(): void;
  middle(): Point;
}
type Made = { patch: Patch; thing: Thing };

export class Pen {
  readonly drawing = new Drawing();
  #twice = new Twice();

  constructor(
    readonly store: JobStore,
    /** The plan, while it is on the screen: an edit may come back after its page was left. */
    readonly sheet: () => Sheet | null | undefined,
    readonly doc: () => JobDocument,
    /** How near something is on the plan to be meant, m. */
    readonly near_m: () => number,
    /** Another edit than the tool's own, where the place asks for one. */
    readonly instead: (tool: Tool, at: Point) => Made | null = () => null,
  ) {}

  /** Takes a tool; chosen by key it comes with a cross hair that the arrow keys move. */
  take(tool: Tool, byKeys: boolean) {
    this.store.select(null);
    this.drawing.start(tool, (byKeys && this.sheet()?.middle()) || null);
    this.sheet()?.takeKeys();
  }

  leave() {
    this.drawing.start(null);
    this.sheet()?.takeKeys();
  }

  /** Ends what is drawn. Where that cannot be, it says why and keeps the draft. */
  async finish() {
    const { drawing, store } = this;
    const tool = drawing.tool;
    if (!tool || drawing.busy) return;
    if (!drawing.mayEnd()) {
      this.sheet()?.takeKeys();
      return;
    }
    const made =
      (drawing.complete && this.instead(tool, drawing.points[0]!)) ||
      drawing.patch(store.document, { doc: this.doc(), catalogue: store.catalogue });
    if (!made) return;
    if (typeof made === 'string') {
      drawing.points = [];
      drawing.problem = made;
      return;
    }
    drawing.busy = true;
    try {
      await store.edit(made.patch, `Draw ${tool.label.toLowerCase()} ${made.thing.id}`.trim());
    } catch (e) {
      drawing.busy = false;
      // A single place is set anew; corners stay, to be moved.
      if (tool.most === 1) drawing.points = [];
      drawing.problem = words(e);
      this.sheet()?.takeKeys();
      return;
    }
    // Another tool may have been taken meanwhile.
    if (drawing.tool === tool && drawing.busy) {
      this.leave();
      store.select(made.thing);
      const told = assumed(store.document, this.doc(), store.catalogue, made.thing);
      if (told) store.begun = { thing: made.thing, told };
    }
  }

  press(p: PlanPress) {
    const [kind, n] = p.handle?.split(':') ?? [];
    if (kind === 'draft') this.drawing.hold(Number(n));
  }

  drag(p: PlanPress) {
    if (!this.drawing.move(p.at, this.doc(), this.near_m())) this.hover(p);
  }

  hover(p: PlanPress) {
    if (!this.drawing.busy) this.drawing.hover(p.at, this.doc(), this.near_m());
  }

  release(p: PlanPress) {
    const twice = this.#twice.second(p.event);
    if (this.drawing.letGo() || this.drawing.busy) return;
    // The first half of a double click set the last corner.
    if (twice && this.drawing.complete) {
      void this.finish();
      return;
    }
    this.hover(p);
    if (this.drawing.add(this.drawing.cursor!.at)) void this.finish();
  }

  key(event: KeyboardEvent): boolean {
    const { drawing } = this;
    // A corner taken back and set again in the same place is no double click.
    this.#twice.forget();
    const by = arrow(event, strideM(prefs.unit));
    if (event.key === 'Escape') drawing.start(null);
    else if (event.key === 'Backspace' || event.key === 'Delete') drawing.back();
    else if (event.key === 'Enter') {
      // Enter sets a corner; in the same place again, or with Ctrl, it ends.
      const at = drawing.cursor?.at;
      const again = !at || (drawing.last && distance(drawing.last, at) < 1e-6);
      if (event.ctrlKey || again) {
        if (drawing.complete) void this.finish();
      } else if (drawing.add(at)) void this.finish();
    } else if (by) {
      drawing.byKeys = true;
      // A cross hair moved by keys: Enter sets a point.
      const from = drawing.cursor?.at ?? drawing.last ?? this.sheet()?.middle();
      if (from) drawing.cursor = { at: tidy([from[0] + by[0], from[1] + by[1]]), kind: 'free' };
    } else return false;
    return true;
  }
}
