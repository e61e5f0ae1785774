/** A button that is an icon alone says its name under a pointer: what is read out of it is its title too. */
const ICONS = '.icon[aria-label], .icon-only[aria-label]';

/** Names the button a pointer is on; one that has a title of its own keeps that. */
export function nameUnder(target: EventTarget | null) {
  const button = target instanceof Element ? target.closest<HTMLElement>(ICONS) : null;
  if (!button || (button.title && button.dataset.named === undefined)) return;
  // Its name may be another by now: what a button takes out changes.
  button.title = button.getAttribute('aria-label')!;
  button.dataset.named = '';
}
