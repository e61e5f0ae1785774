/** Moving what is chosen: corners, middles that become corners, or the whole. Drawn at once, made when let go. */
import { sameThing, type JobDocument, type Thing } from '../api/document';
import { named } from '../lib/called';
import { tidy, type Point } from '../lib/geometry';
import type { Patch } from '../lib/pointer';
import { snap } from '../lib/snapping';
import { movedTo } from '../lib/stakes';
import type { JobStore } from '../state/job.svelte';
import { prefs } from '../state/prefs.svelte';
import { noted, say } from '../words/spoken.svelte';
import { gridM, toStep } from './grid';
import type { Choosing } from './pick';
import type { PlanPress } from './press';
import { reshaped, shapeOf, snapWays, type Shape } from './ways';

/** A press that moves less than this many pixels is a choice, not a drag. */
const STILL_PX = 4;

interface Grip {
  thing: Thing;
  shape: Shape;
  /** Corner that moves; `null` for the whole thing. */
  corner: number | null;
  from: Point;
  screen: Point;
  moved: boolean;
}

export class Shaping {
  /** Corner last taken, for the keys. */
  corner = $state<number | null>(null);
  #grip: Grip | null = null;
  /** Whether Escape took the drag back whose release is to come. */
  #cancelled = false;

  constructor(
    readonly store: JobStore,
    readonly choosing: Choosing,
  ) {}

  /** Whether a press is on something that can be moved. */
  press(p: PlanPress, doc: JobDocument): boolean {
    this.#cancelled = false;
    const chosen = this.store.selected;
    const shape = chosen && shapeOf(doc, chosen);
    if (!chosen || !shape) return false;
    const [kind, n] = p.handle?.split(':') ?? [];
    const grip = {
      thing: chosen,
      from: p.at,
      screen: [p.event.clientX, p.event.clientY] as Point,
      moved: false,
    };
    if (kind === 'corner') {
      this.corner = Number(n);
      this.#grip = { ...grip, shape, corner: Number(n) };
      return true;
    }
    if (kind === 'middle') {
      const points = [...shape.points];
      points.splice(Number(n) + 1, 0, tidy(p.at));
      this.corner = Number(n) + 1;
      this.#grip = { ...grip, shape: { ...shape, points }, corner: Number(n) + 1, moved: true };
      return true;
    }
    // What lies below another thing is taken hold of where a click went on to it.
    const under = this.choosing.here(p) ? p.under : p.under.slice(0, 1);
    if (under.some((t) => sameThing(t, chosen))) {
      this.#grip = { ...grip, shape, corner: shape.key === 'position' ? 0 : null };
      return true;
    }
    return false;
  }

  drag(p: PlanPress, doc: JobDocument, within_m: number) {
    const g = this.#grip;
    if (!g) return;
    const far = Math.hypot(p.event.clientX - g.screen[0], p.event.clientY - g.screen[1]);
    if (!g.moved && far < STILL_PX) return;
    g.moved = true;
    const points = [...g.shape.points];
    if (g.corner !== null) {
      points[g.corner] = snap(p.at, within_m, snapWays(doc, g.thing), null, gridM(prefs.unit)).at;
    } else {
      const by = ([0, 1] as const).map((axis) =>
        toStep(p.at[axis] - g.from[axis], gridM(prefs.unit)),
      ) as Point;
      g.shape.points.forEach((q, i) => (points[i] = tidy([q[0] + by[0], q[1] + by[1]])));
    }
    this.store.preview = this.#edit(g.thing, g.shape, points, p.event.altKey);
  }

  /** Lets go of what is dragged and leaves it where it was; returns whether something was held. */
  cancel(): boolean {
    if (!this.#grip) return false;
    this.#grip = null;
    this.#cancelled = true;
    this.store.preview = null;
    return true;
  }

  /** Makes the edit; returns whether something was moved, or a drag taken back. */
  release(): boolean {
    const g = this.#grip;
    this.#grip = null;
    if (this.#cancelled) {
      this.#cancelled = false;
      return true;
    }
    const patch = this.store.preview;
    if (!g?.moved || !patch) return false;
    void this.store.try(patch, `Move ${this.#named(g.thing)}`);
    return true;
  }

  /** As the log has it. */
  #named = (thing: Thing) =>
    (thing.table === 'site' ? noted('the property') : named(this.store.resolved, thing)).note;

  /** Moves what is chosen (or its corner) by keys, metres. */
  nudge(by: Point, doc: JobDocument): boolean {
    const thing = this.store.selected;
    const shape = thing && shapeOf(doc, thing);
    if (!thing || !shape) return false;
    const one = this.corner !== null && shape.key !== 'position' && this.corner < shape.points.length;
    const points = shape.points.map((q, i): Point =>
      !one || i === this.corner ? tidy([q[0] + by[0], q[1] + by[1]]) : q,
    );
    void this.store.try(this.#edit(thing, shape, points), `Move ${this.#named(thing)}`);
    return true;
  }

  /** The edit that moves a thing: a loudspeaker takes the others on its stake along, unless it is moved alone. */
  #edit(thing: Thing, shape: Shape, points: Point[], alone = false): Patch {
    const { resolved, catalogue } = this.store;
    return thing.table === 'loudspeakers' && resolved && !alone
      ? movedTo(resolved, catalogue, thing.id, points[0]!)
      : reshaped(thing, shape, points);
  }

  /** Takes out the corner last taken, where enough are left. */
  removeCorner(doc: JobDocument): boolean {
    const thing = this.store.selected;
    const shape = thing && shapeOf(doc, thing);
    if (!thing || !shape || this.corner === null) return false;
    const least = shape.closed ? 3 : 2;
    if (shape.points.length <= least) {
      // The key was meant for the corner: it takes nothing else.
      this.store.complain(
        shape.closed
          ? say(
              'An outline needs at least {least} corners. To take the whole out, let the corner go first.',
              { least },
            )
          : say('A line needs at least {least} corners. To take the whole out, let the corner go first.', {
              least,
            }),
        thing,
      );
      return true;
    }
    const points = shape.points.filter((_, i) => i !== this.corner);
    this.corner = null;
    void this.store.try(reshaped(thing, shape, points), `Take out a corner of ${this.#named(thing)}`);
    return true;
  }
}

/** The step of an arrow key, metres: by the grid, or as far as is said; Shift makes it ten times as far. */
export function arrow(event: KeyboardEvent, by_m = gridM(prefs.unit)): Point | null {
  const step = by_m * (event.shiftKey ? 10 : 1);
  const ways: Record<string, Point> = {
    ArrowLeft: [-step, 0],
    ArrowRight: [step, 0],
    ArrowUp: [0, step],
    ArrowDown: [0, -step],
  };
  return ways[event.key] ?? null;
}
