/** A window that is closed: what stands typed in it is sent, and whoever would lose something is asked. */
import { takeOver, wouldBeLost } from './unsaved';

/** Begins to look out for the window being closed; returns how to leave off. */
export function watchLeaving(): () => void {
  const over = new AbortController();
  const { signal } = over;
  addEventListener(
    'beforeunload',
    (event) => {
      // What was just taken over is on its way and not kept yet: the question gives it the time it needs.
      takeOver();
      if (wouldBeLost()) event.preventDefault();
    },
    { signal },
  );
  // A phone closes a page without a question.
  addEventListener('pagehide', takeOver, { signal });
  return () => over.abort();
}
