/** A press on the plan, and what a hand is on: things drawn as elements, and those of a crowd drawn on one canvas. */
import { sameThing, type JobDocument, type Thing } from '../api/document';
import type { Point } from '../lib/geometry';
import type { Under } from './under';
import type { PlanView } from './view.svelte';
import { smallestFirst } from './ways';

/** A press, drag or release on the plan. */
export interface PlanPress {
  at: Point;
  thing: Thing | null;
  /** Everything under the pointer, uppermost first; of outlines the smallest first. */
  under: Thing[];
  /** Run under the pointer, for cable. */
  run: string | null;
  /** Handle under the pointer: kind and number. */
  handle: string | null;
  event: PointerEvent;
}

/** The plan as it lies under the hand now. */
export interface Laid {
  root: HTMLElement;
  view: PlanView;
  doc: JobDocument | null;
  /** What of it is a crowd; none where everything is drawn as an element. */
  under: Under | null;
  /** Whether a press is under way: while something is dragged, a hand is on nothing else. */
  taken: boolean;
}

type OnScreen = Pick<PointerEvent, 'clientX' | 'clientY'>;

const thingOf = (drawn: SVGElement): Thing => ({
  table: drawn.dataset.table as Thing['table'],
  id: drawn.dataset.id ?? '',
});

/** A place on the screen as one on site. */
export function placeAt({ root, view }: Laid, { clientX, clientY }: OnScreen): Point {
  const box = root.getBoundingClientRect();
  return view.unproject([clientX - box.left, clientY - box.top]);
}

function thingsAt(laid: Laid, { clientX, clientY }: OnScreen): Thing[] {
  const { root, doc, under } = laid;
  const things: Thing[] = [];
  for (const element of document.elementsFromPoint(clientX, clientY)) {
    const drawn = root.contains(element) && element.closest<SVGElement>('[data-table]');
    if (drawn && !things.some((t) => sameThing(t, thingOf(drawn)))) things.push(thingOf(drawn));
  }
  const all = under ? under.among(things, placeAt(laid, { clientX, clientY })) : things;
  return doc ? smallestFirst(doc, all) : all;
}

/** What a hand is on, and which run where it is cable. */
export function hit(laid: Laid, event: PointerEvent): { thing: Thing | null; run: string | null } {
  const target = event.target instanceof Element ? event.target : null;
  const drawn = target?.closest<SVGElement>('[data-table]');
  const onDrawn = { thing: drawn ? thingOf(drawn) : null, run: drawn?.dataset.run ?? null };
  const { under, taken } = laid;
  // On a button over the plan it is on nothing else either.
  if (!under || taken || target?.closest('.over-plan, [data-handle]')) return onDrawn;
  return under.first(onDrawn, placeAt(laid, event));
}

/** A press of the pointer; `laid` is asked again for what is looked up later. */
export function pressOf(laid: () => Laid, event: PointerEvent): PlanPress {
  const target = event.target instanceof Element ? event.target : null;
  const now = laid();
  const { thing, run } = hit(now, event);
  return {
    at: placeAt(now, event),
    thing,
    // Looked up where it is asked for: a drag comes many times a second and does not ask.
    get under() {
      return thingsAt(laid(), event);
    },
    run,
    handle: target?.closest<SVGElement>('[data-handle]')?.dataset.handle ?? null,
    event,
  };
}
