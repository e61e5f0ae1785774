/** One stop of the Tab key for a row of buttons; arrow keys go from one to the next, and choose where one must be chosen. */
const NEXT = ['ArrowRight', 'ArrowDown'];
const BEFORE = ['ArrowLeft', 'ArrowUp'];

export function roving(row: HTMLElement) {
  const all = () => [...row.querySelectorAll<HTMLButtonElement>('button:not(:disabled)')];
  const on = (b: HTMLButtonElement) =>
    b.getAttribute('aria-checked') === 'true' || b.getAttribute('aria-pressed') === 'true';
  function stop(at?: HTMLButtonElement) {
    const buttons = all();
    const only = at ?? buttons.find(on) ?? buttons[0];
    for (const b of buttons) b.tabIndex = b === only ? 0 : -1;
  }
  function key(event: KeyboardEvent) {
    const step = NEXT.includes(event.key) ? 1 : BEFORE.includes(event.key) ? -1 : 0;
    const buttons = all();
    const i = buttons.indexOf(document.activeElement as HTMLButtonElement);
    if (i < 0) return;
    const next =
      event.key === 'Home'
        ? buttons[0]
        : event.key === 'End'
          ? buttons.at(-1)
          : step
            ? buttons[(i + step + buttons.length) % buttons.length]
            : undefined;
    if (!next) return;
    event.preventDefault();
    next.focus();
    if (row.getAttribute('role') === 'radiogroup') next.click();
    stop(next);
  }
  // Another one chosen, or other buttons: the stop moves along, unless somebody is in the row.
  const watch = new MutationObserver(() => {
    const here = document.activeElement;
    stop(here instanceof HTMLButtonElement && row.contains(here) ? here : undefined);
  });
  watch.observe(row, {
    subtree: true,
    childList: true,
    attributes: true,
    attributeFilter: ['aria-checked', 'aria-pressed', 'disabled'],
  });
  row.addEventListener('keydown', key);
  stop();
  return {
    destroy() {
      watch.disconnect();
      row.removeEventListener('keydown', key);
    },
  };
}
