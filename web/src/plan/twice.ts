/** Within this time a second press in the same place is the second half of a double click, ms: the usual setting. */
const USUAL_MS = 500;
/** No hand holds quite still between the two, px. */
const STILL_PX = 6;

type Press = Pick<PointerEvent, 'clientX' | 'clientY' | 'timeStamp'>;

/** Whether two presses are in the same place. */
export const samePlace = (a: Omit<Press, 'timeStamp'>, b: Omit<Press, 'timeStamp'>) =>
  Math.hypot(a.clientX - b.clientX, a.clientY - b.clientY) <= STILL_PX;

/** Tells double clicks on the plan, from the presses as they come. */
export class Twice {
  #last: Press | null = null;

  /** Whether this press is the second of a double click; a third begins anew. */
  second({ clientX, clientY, timeStamp }: Press): boolean {
    const press = { clientX, clientY, timeStamp };
    const before = this.#last;
    const second = before !== null && timeStamp - before.timeStamp <= USUAL_MS && samePlace(before, press);
    this.#last = second ? null : press;
    return second;
  }

  /** Something else was done: the next press begins anew. */
  forget() {
    this.#last = null;
  }
}
