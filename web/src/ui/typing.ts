/** Keys that mean a letter in a box, and keys that mean what a page does with them. */
import { isBeingTyped, isRefused, isText } from '../state/unsaved';

/** Whether a key goes into a box, or to a dialog that is open. */
export const isTyping = (event: KeyboardEvent) =>
  document.querySelector('dialog[open]') !== null ||
  (event.target instanceof Element && event.target.closest('input, textarea, select, dialog') !== null);

/** Whether undo and redo are the job's: no dialog is open, and the box that has the key shows what holds, not a text being typed. */
export function isForTheJob({ target }: KeyboardEvent): boolean {
  if (document.querySelector('dialog[open]')) return false;
  return !isText(target) || (target.form === null && !isBeingTyped(target) && !isRefused(target));
}

/** A key without those that make a command of the browser or the system of it. */
export const plainKey = (event: KeyboardEvent) => !event.ctrlKey && !event.metaKey && !event.altKey;
