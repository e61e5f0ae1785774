/** The plan moved: by hand, wheel and fingers, and gliding to where it is sent. */
import { select } from 'd3-selection';
import { zoom, type D3ZoomEvent, type ZoomBehavior, type ZoomTransform } from 'd3-zoom';
import 'd3-transition';
import { untrack } from 'svelte';
import type { Point } from '../lib/geometry';
import type { PlanView } from './view.svelte';

const GLIDE_MS = 220;

export interface Moved {
  readonly root: HTMLDivElement;
  readonly view: PlanView;
  /** Whether a press is something else than a move of the plan. */
  readonly taken: boolean;
}

export class Glide {
  /** Whether a hand has moved the plan; set back by whoever asks for the next press. */
  moved = false;
  /** Where the plan is gliding to; none while it rests. */
  #goal: ZoomTransform | null = null;
  readonly #of: () => Moved;
  readonly #behaviour: ZoomBehavior<HTMLDivElement, unknown>;
  readonly #reduced = matchMedia('(prefers-reduced-motion: reduce)');

  constructor(of: () => Moved) {
    this.#of = of;
    this.#behaviour = zoom<HTMLDivElement, unknown>()
      .scaleExtent([0.2, 2000])
      // A press on a button over the plan is the button's: it would end the glide of the press before.
      .filter(
        (event: Event) =>
          !of().taken &&
          !(event as MouseEvent).button &&
          event.type !== 'dblclick' &&
          (event.type === 'wheel' || !(event.target as Element).closest('.over-plan')),
      )
      .on('zoom', (event: D3ZoomEvent<HTMLDivElement, unknown>) => {
        const { view } = of();
        view.t = event.transform;
        this.moved ||= Boolean(event.sourceEvent);
        view.moved ||= Boolean(event.sourceEvent);
      });
  }

  /** Where the plan is or will be in a moment: what the next step counts from. */
  get rest(): ZoomTransform {
    return this.#goal ?? this.#of().view.t;
  }

  go(t: ZoomTransform, smooth = true) {
    const target = select(this.#of().root);
    if (smooth && !this.#reduced.matches) {
      const glide = target.transition().duration(GLIDE_MS).call(this.#behaviour.transform, t);
      this.#goal = t;
      glide.on('end interrupt cancel', () => {
        if (this.#goal === t) this.#goal = null;
      });
    } else {
      this.#goal = null;
      target.interrupt().call(this.#behaviour.transform, t);
    }
  }

  /** Closer by a factor, about the middle of what is shown. */
  by(factor: number) {
    const { view } = this.#of();
    view.moved = true;
    const middle: Point = [view.width / 2, view.height / 2];
    const at = this.rest.invert(middle);
    const t = this.rest.scale(factor);
    const now = t.apply(at);
    this.go(t.translate((middle[0] - now[0]) / t.k, (middle[1] - now[1]) / t.k));
  }

  /** Takes hold of the plan until what it gives back is called. Only once: following every step of a glide would interrupt it. */
  hold(): () => void {
    const target = select(this.#of().root).call(this.#behaviour).on('dblclick.zoom', null);
    target.call(
      this.#behaviour.transform,
      untrack(() => this.#of().view.t),
    );
    return () => {
      target.interrupt().on('.zoom', null);
      if (this.#goal) this.#of().view.t = this.#goal;
    };
  }
}
