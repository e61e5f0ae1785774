/**
 * What would be lost if the page were loaded anew now: what its parts say they hold, and what stands half entered in a box.
 * Whatever a phone has kept for the office is on its disk and none of this.
 */

type Box = HTMLInputElement | HTMLTextAreaElement;

const holders = new Set<() => boolean>();
/** Those of them whose loss nobody minds: it is made again by itself. */
const minor = new WeakSet<() => boolean>();
/** Boxes that were typed in since they were last taken over. */
const typed = new Set<Box>();
/** What stood in a box when somebody came to it, or when it was last taken over. */
const stood = new WeakMap<Element, string>();
/** Whether the window is being closed just now. */
let leaving = false;
/** When a hand was last seen. */
let touched_ms = -Infinity;

/** So long after the last touch nobody is in the middle of anything, ms: longer than a thought about the next key. */
export const QUIET_MS = 5000;

/** Whoever holds something that is nowhere else says so as long as it does; returns how to leave off. */
export function holds(something: () => boolean): () => void {
  holders.add(something);
  return () => void holders.delete(something);
}

/** The same of what is made again by itself once the page is open again: it holds up a reload, but nobody is asked for it. */
export function holdsForNow(something: () => boolean): () => void {
  minor.add(something);
  return holds(something);
}

/** Whether nothing on the page would be lost. */
export function nothingUnsaved(): boolean {
  for (const box of typed) if (!box.isConnected) typed.delete(box);
  const half = [...typed].some((box) => box.value !== '');
  // What was refused stands in its box; a dialog waits for an answer; what is busy is being made.
  const open = document.querySelector('[aria-invalid="true"], dialog[open], [aria-busy="true"]');
  return !half && !open && ![...holders].some((something) => something());
}

/** Whether somebody who closes the window now would lose something they made. */
export function wouldBeLost(): boolean {
  // What is searched for is nothing anybody keeps.
  const half = [...typed].some((box) => box.isConnected && box.type !== 'search' && isBeingTyped(box));
  const refused = document.querySelector('[aria-invalid="true"]') !== null;
  return half || refused || [...holders].some((something) => !minor.has(something) && something());
}

/** Takes over what stands typed in boxes by themselves, as leaving each would; a form waits for whoever sends it. */
export function takeOver() {
  leaving = true;
  for (const box of [...typed])
    if (box.isConnected && !box.form && isBeingTyped(box))
      box.dispatchEvent(new Event('change', { bubbles: true }));
  // Whoever stays goes on as before.
  setTimeout(() => (leaving = false));
}

/** Whether what is sent now has to arrive without the window it came from. */
export const isLeaving = () => leaving;

/** Whether a box shows a text that somebody types and nothing has taken over. */
export const isBeingTyped = (box: Box) => typed.has(box) && box.value !== stood.get(box);

/** Whether a box shows a text that was refused: it is not what holds. */
export const isRefused = (box: Box) => box.getAttribute('aria-invalid') === 'true';

/** Whether no hand is at work: none was seen for a while, or nobody looks. */
export const handsOff = (now_ms = performance.now()) =>
  document.visibilityState === 'hidden' || now_ms - touched_ms >= QUIET_MS;

export const isText = (e: EventTarget | null): e is Box =>
  e instanceof HTMLTextAreaElement ||
  (e instanceof HTMLInputElement && !['checkbox', 'radio', 'file', 'range', 'button'].includes(e.type));

/** Begins to look out for hands; returns how to leave off. */
export function watchHands(): () => void {
  const over = new AbortController();
  const on = <K extends keyof WindowEventMap>(kind: K, heard: (event: WindowEventMap[K]) => void) =>
    addEventListener(kind, heard, { capture: true, passive: true, signal: over.signal });
  const touch = () => (touched_ms = performance.now());
  for (const kind of ['pointerdown', 'pointerup', 'keydown', 'wheel', 'input'] as const) on(kind, touch);
  on('focusin', ({ target }) => void (isText(target) && stood.set(target, target.value)));
  on('input', ({ target }) => void (isText(target) && typed.add(target)));
  // A box by itself is taken over once it is left, or refused, which it then says; one of a form with its form.
  const left = ({ target }: Event) => {
    if (!isText(target) || target.form) return;
    typed.delete(target);
    stood.set(target, target.value);
  };
  on('change', left);
  on('focusout', left);
  on('submit', ({ target }) => {
    for (const box of typed) if (box.form === target) typed.delete(box);
  });
  // The browser's own undo knows nothing of what was taken over: it would put an old text where the job's value stands.
  const backInTime = (event: InputEvent) => {
    const box = event.target;
    if (!event.inputType.startsWith('history') || !isText(box) || box.form) return;
    if (!typed.has(box) && !isRefused(box)) event.preventDefault();
  };
  addEventListener('beforeinput', backInTime, { capture: true, signal: over.signal });
  return () => {
    over.abort();
    typed.clear();
    touched_ms = -Infinity;
  };
}
