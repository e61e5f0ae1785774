/** Keys that mean a letter in a box, and keys that mean what a page does with them. */

/** Whether a key goes into a box, or to a dialog that is open. */
export const isTyping = (event: KeyboardEvent) =>
  document.querySelector('dialog[open]') !== null ||
  (event.target instanceof Element && event.target.closest('input, textarea, select, dialog') !== null);

/** A key without those that make a command of the browser or the system of it. */
export const plainKey = (event: KeyboardEvent) => !event.ctrlKey && !event.metaKey && !event.altKey;
