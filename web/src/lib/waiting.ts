/** A place in a queue, asked for while somebody waits and told in words. */
import { get } from '../api/client';
import type { PlaceView, QueuesView } from '../api/shapes';
import { say } from '../words/spoken.svelte';

/** How often the place is asked for, ms; what is quick is there before the first time. */
const EVERY_MS = 1000;

/** A place in words, as part of a sentence. */
export function placeWords({ before, about_s }: Pick<PlaceView, 'before' | 'about_s'>): string {
  return before === 0
    ? say('next in turn, about {seconds} s', { seconds: about_s })
    : say('{before} before you, about {seconds} s', { before, seconds: about_s });
}

/** Tells the place of a request that was given a ticket, while it waits; call what this gives once it is answered. */
export function watchPlace(ticket: string, tell: (place: string | null) => void): () => void {
  let over = false;
  let timer = setTimeout(ask, EVERY_MS);

  async function ask() {
    const told = await get<QueuesView>(`/queues?ticket=${ticket}`).catch(() => null);
    if (over) return;
    tell(told?.yours ? placeWords(told.yours) : null);
    // Whoever is told may have heard enough.
    if (!over) timer = setTimeout(ask, EVERY_MS);
  }

  return () => {
    if (over) return;
    over = true;
    clearTimeout(timer);
    tell(null);
  };
}

/** Asked so often without a place, a download has its turn: one that has not arrived yet may have none at first. */
const HAS_NONE = 3;

/** The same for a download, which the browser makes by itself and tells nobody of: over once it has its turn. */
export function watchDownload(ticket: string, tell: (place: string | null) => void): () => void {
  let waited = false;
  let without = 0;
  const stop = watchPlace(ticket, (place) => {
    tell(place);
    if (place) waited = true;
    else if (waited || ++without >= HAS_NONE) stop();
  });
  return stop;
}
