/** Several things chosen at once: by clicks with Shift, by a frame, all of them; and moved together. */
import { sameThing, type JobDocument, type Table, type Thing } from '../api/document';
import { namedTogether } from '../lib/called';
import type { Point } from '../lib/geometry';
import type { JobStore } from '../state/job.svelte';
import { prefs } from '../state/prefs.svelte';
import { movedBy, within, type Sheet } from './arranging';
import { gridM, toStep } from './grid';
import type { PlanPress } from './press';

/** A press that moves less than this many pixels is a choice, not a drag. */
const STILL_PX = 4;

interface Grip {
  what: 'frame' | 'move';
  /** What the press was on. */
  hit: Thing | null;
  from: Point;
  screen: Point;
  moved: boolean;
}

export class Several {
  /** Whether every press adds or takes away, as with Shift: for fingers, and for the lists beside the plan. */
  on = $state(false);
  frame = $state.raw<{ from: Point; to: Point } | null>(null);
  #grip: Grip | null = null;
  /** Whether Escape took the drag back whose release is to come. */
  #cancelled = false;

  constructor(
    readonly store: JobStore,
    /** What can be chosen on this plan. */
    readonly tables: readonly Table[],
  ) {}

  /** The job as edits are worked out for. */
  get sheet(): Sheet {
    const { document, resolved, catalogue } = this.store;
    return { document, doc: resolved!, catalogue };
  }

  #may = (thing: Thing) => thing.table !== 'site' && this.tables.includes(thing.table);

  /** Whether a press begins a frame, or takes hold of all that is chosen. */
  press(p: PlanPress): boolean {
    this.#cancelled = false;
    if (p.handle) return false;
    const adds = this.on || p.event.shiftKey;
    const { several } = this.store;
    if (!adds && several.length === 0) return false;
    const under = p.under.filter(this.#may);
    const held = under.find((t) => several.some((c) => sameThing(c, t)));
    if (!adds && !held) return false;
    this.#grip = {
      what: held && !p.event.shiftKey ? 'move' : 'frame',
      hit: held ?? under[0] ?? null,
      from: p.at,
      screen: [p.event.clientX, p.event.clientY],
      moved: false,
    };
    return true;
  }

  get held() {
    return this.#grip !== null;
  }

  drag(p: PlanPress) {
    const g = this.#grip;
    if (!g) return;
    const far = Math.hypot(p.event.clientX - g.screen[0], p.event.clientY - g.screen[1]);
    if (!g.moved && far < STILL_PX) return;
    g.moved = true;
    if (g.what === 'frame') {
      this.frame = { from: g.from, to: p.at };
      return;
    }
    const step = gridM(prefs.unit);
    const by: Point = [toStep(p.at[0] - g.from[0], step), toStep(p.at[1] - g.from[1], step)];
    this.store.preview = movedBy(this.sheet, this.store.several, by);
  }

  /** Returns whether the release was of a press of its own. */
  release(): boolean {
    const g = this.#grip;
    this.#grip = null;
    const { frame } = this;
    this.frame = null;
    if (this.#cancelled) {
      this.#cancelled = false;
      return true;
    }
    if (!g) return false;
    if (!g.moved) this.#clicked(g);
    else if (frame) this.#framed(frame);
    else if (this.store.preview) void this.store.try(this.store.preview, this.#note('Move'));
    return true;
  }

  #clicked({ what, hit }: Grip) {
    if (!hit) return;
    if (what === 'frame' || this.on) this.toggle(hit);
    else this.store.select(hit);
  }

  #framed({ from, to }: { from: Point; to: Point }) {
    const box = {
      min: [Math.min(from[0], to[0]), Math.min(from[1], to[1])] as Point,
      max: [Math.max(from[0], to[0]), Math.max(from[1], to[1])] as Point,
    };
    const { resolved, chosen } = this.store;
    const inside = within(resolved!, this.#all(resolved!), box);
    const more = inside.filter((t) => !chosen.some((c) => sameThing(c, t)));
    if (more.length) this.store.choose([...chosen.filter(this.#may), ...more]);
  }

  #all = (doc: JobDocument): Thing[] =>
    this.tables.flatMap((table) => Object.keys(doc[table] ?? {}).map((id): Thing => ({ table, id })));

  /** Adds a thing to what is chosen, or takes it away. */
  toggle(thing: Thing) {
    const { chosen } = this.store;
    const was = chosen.some((t) => sameThing(t, thing));
    const others = chosen.filter((t) => !sameThing(t, thing) && this.#may(t));
    this.store.choose(was ? others : [...others, thing]);
  }

  /** Chooses one thing from a list; with Shift, or while several are chosen, it is added or taken away. */
  pick(thing: Thing, event: MouseEvent | null) {
    if (this.#may(thing) && (this.on || event?.shiftKey)) this.toggle(thing);
    else this.store.select(thing);
  }

  /** Chooses all there is, or all of what is looked at. */
  all(seen: (thing: Thing) => boolean = () => true) {
    this.store.choose(this.#all(this.store.resolved!).filter(seen));
  }

  /** Moves all that is chosen by keys, metres. */
  nudge(by: Point): boolean {
    const { several } = this.store;
    if (several.length === 0) return false;
    void this.store.try(movedBy(this.sheet, several, by), this.#note('Move'));
    return true;
  }

  #note = (what: string) => `${what} ${namedTogether(this.store.resolved, this.store.several).note}`;

  /** First a drag is taken back, then choosing several ends, then what is chosen is let go; returns whether any was. */
  escape(): boolean {
    if (this.#grip) {
      this.#grip = null;
      this.frame = null;
      this.#cancelled = true;
      this.store.preview = null;
      return true;
    }
    if (this.on) {
      this.on = false;
      return true;
    }
    if (this.store.several.length === 0) return false;
    this.store.choose([]);
    return true;
  }
}
