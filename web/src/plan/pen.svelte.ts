/** A hand with a drawing tool: what presses, moves and keys on the plan do while one is taken. */
import type { JobDocument, Thing } from '../api/document';
import { words } from '../api/client';
import { carriesTag } from '../lib/called';
import { distance, tidy, type Point } from '../lib/geometry';
import type { Patch } from '../lib/pointer';
import type { JobStore } from '../state/job.svelte';
import { prefs } from '../state/prefs.svelte';
import { assumed } from './assumed';
import { Drawing } from './drawing.svelte';
import { strideM } from './grid';
import type { PlanPress } from './press';
import { arrow } from './shaping.svelte';
import type { Form, Tool } from './tools';
import { Twice } from './twice';

/** The plan as the pen needs it. */
interface Sheet {
  takeKeys(): void;
  middle(): Point;
}
type Made = { patch: Patch; thing: Thing };

/** A press that moves farther than this draws from where it began to where it ends, px. */
const DRAG_PX = 8;
/** Figures begun on the plan are a length. */
const FIGURE = /^[\d.,]$/;

export class Pen {
  readonly drawing = new Drawing();
  #twice = new Twice();
  /** Where the press began. */
  #from: { at: Point; screen: Point } | null = null;
  /** Whether the press was taken back, or did what its release would do. */
  #over = false;
  /** The tool last used for outlines: a form taken without one draws with it. */
  #outlines: Tool | null = null;

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
    this.#from = null;
    if (tool.shape === 'outline') this.#outlines = tool;
    this.drawing.start(tool, (byKeys && this.sheet()?.middle()) || null);
    this.sheet()?.takeKeys();
  }

  /** Takes a form, or lets it go for corners; with the tool last used for outlines where none is in hand that has it. */
  shape(form: Form, tools: readonly Tool[], byKeys: boolean) {
    const { drawing } = this;
    drawing.inForm(drawing.form === form ? 'corners' : form);
    if (drawing.form !== 'corners' && drawing.as === 'corners') {
      const outlines = this.#outlines ?? tools.find((t) => t.table === 'surfaces');
      if (outlines) this.take(outlines, byKeys);
    } else this.sheet()?.takeKeys();
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
      await store.edit(made.patch, `Draw ${drawnAs(made, tool)}`);
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
    this.#over = false;
    if (kind === 'draft') this.drawing.hold(Number(n));
    else {
      // A finger comes from nowhere: the cross hair goes to it.
      this.hover(p);
      this.#from = { at: this.drawing.cursor?.at ?? p.at, screen: [p.event.clientX, p.event.clientY] };
    }
  }

  drag(p: PlanPress) {
    const { drawing } = this;
    if (drawing.move(p.at, this.doc(), this.near_m())) return;
    const from = this.#from;
    const far_px = from ? Math.hypot(p.event.clientX - from.screen[0], p.event.clientY - from.screen[1]) : 0;
    const dragged = ['rectangle', 'circle'].includes(drawing.as) && drawing.points.length === 0;
    if (from && dragged && far_px > DRAG_PX && !this.#over) drawing.add(from.at, this.doc());
    this.hover(p);
  }

  hover(p: PlanPress) {
    if (!this.drawing.busy) this.drawing.hover(p.at, this.doc(), this.near_m());
  }

  release(p: PlanPress) {
    const twice = this.#twice.second(p.event);
    this.#from = null;
    if (this.drawing.letGo() || this.drawing.busy || this.#over) return;
    // The first half of a double click set the last corner.
    if (twice) {
      if (this.drawing.complete) void this.finish();
      return;
    }
    this.hover(p);
    if (this.drawing.add(this.drawing.cursor!.at, this.doc())) void this.finish();
  }

  key(event: KeyboardEvent): boolean {
    const { drawing } = this;
    // A corner taken back and set again in the same place is no double click.
    this.#twice.forget();
    const by = arrow(event, strideM(prefs.unit));
    if (event.key === 'Escape') this.escape();
    else if (FIGURE.test(event.key) && !event.ctrlKey && !event.metaKey && drawing.points.length > 0) {
      if (drawing.tool?.most !== 1) drawing.typed = event.key;
    } else if (event.key === 'Backspace' || event.key === 'Delete') drawing.back();
    else if (event.key === 'Enter') {
      // Enter sets a corner; in the same place again, or with Ctrl, it ends.
      const at = drawing.cursor?.at;
      const again = !at || (drawing.last && distance(drawing.last, at) < 1e-6);
      if (event.ctrlKey || again) {
        if (drawing.complete) void this.finish();
      } else if (drawing.add(at, this.doc())) void this.finish();
    } else if (by) {
      // A cross hair moved by keys: Enter sets a point.
      const from = drawing.cursor?.at ?? drawing.last ?? this.sheet()?.middle();
      if (from) drawing.aim(tidy([from[0] + by[0], from[1] + by[1]]));
    } else return false;
    return true;
  }

  /** First what is drawn is let go, then the tool. */
  escape() {
    const { drawing } = this;
    this.#over = true;
    this.#from = null;
    if (drawing.points.length === 0 && drawing.problem === null) this.leave();
    else drawing.start(drawing.tool, drawing.byKeys ? (drawing.cursor?.at ?? null) : null);
  }
}

/** What was drawn, by the name it begins with: "listening area Lawn". */
function drawnAs({ patch, thing }: Made, tool: Tool): string {
  const added = patch.flatMap(({ value }) =>
    typeof value === 'object' && value !== null ? [value as Record<string, unknown>] : [],
  );
  const name = added.map((v) => ((v[thing.id] ?? v) as { name?: unknown }).name).find((n) => n);
  const label = tool.label.toLowerCase();
  const named = carriesTag(thing.table) || typeof name !== 'string' ? thing.id : name;
  return named.toLowerCase().startsWith(label) ? named : `${label} ${named}`.trim();
}
