/**
 * What would be lost if the page were loaded anew now: what its parts say they hold, and what stands half entered in a box.
 * Whatever a phone has kept for the office is on its disk and none of this.
 */

const holders = new Set<() => boolean>();
/** Boxes that were typed in since they were last taken over. */
const typed = new Set<HTMLInputElement | HTMLTextAreaElement>();
/** When a hand was last seen. */
let touched_ms = -Infinity;

/** So long after the last touch nobody is in the middle of anything, ms: longer than a thought about the next key. */
export const QUIET_MS = 5000;

/** Whoever holds something that is nowhere else says so as long as it does; returns how to leave off. */
export function holds(something: () => boolean): () => void {
  holders.add(something);
  return () => void holders.delete(something);
}

/** Whether nothing on the page would be lost. */
export function nothingUnsaved(): boolean {
  for (const box of typed) if (!box.isConnected || box.value === '') typed.delete(box);
  // What was refused stands in its box; a dialog waits for an answer; what is busy is being made.
  const open = document.querySelector('[aria-invalid="true"], dialog[open], [aria-busy="true"]');
  return typed.size === 0 && !open && ![...holders].some((something) => something());
}

/** Whether no hand is at work: none was seen for a while, or nobody looks. */
export const handsOff = (now_ms = performance.now()) =>
  document.visibilityState === 'hidden' || now_ms - touched_ms >= QUIET_MS;

const isText = (e: EventTarget | null): e is HTMLInputElement | HTMLTextAreaElement =>
  e instanceof HTMLTextAreaElement ||
  (e instanceof HTMLInputElement && !['checkbox', 'radio', 'file', 'range', 'button'].includes(e.type));

/** Begins to look out for hands; returns how to leave off. */
export function watchHands(): () => void {
  const over = new AbortController();
  const on = <K extends keyof WindowEventMap>(kind: K, heard: (event: WindowEventMap[K]) => void) =>
    addEventListener(kind, heard, { capture: true, passive: true, signal: over.signal });
  const touch = () => (touched_ms = performance.now());
  for (const kind of ['pointerdown', 'pointerup', 'keydown', 'wheel', 'input'] as const) on(kind, touch);
  on('input', ({ target }) => void (isText(target) && typed.add(target)));
  // A box by itself is taken over once it is left, or refused, which it then says; one of a form with its form.
  const left = ({ target }: Event) => {
    if (isText(target) && !target.form) typed.delete(target);
  };
  on('change', left);
  on('focusout', left);
  on('submit', ({ target }) => {
    for (const box of typed) if (box.form === target) typed.delete(box);
  });
  return () => {
    over.abort();
    typed.clear();
    touched_ms = -Infinity;
  };
}
