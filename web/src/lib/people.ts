/** Who else looks at the job, as people say it. */

import { listing, say } from '../words/spoken.svelte';

/** Whoever gave no name is called so by the server's log and channel. */
const NOBODY = 'somebody';

/** Everybody but this window, one for each window; the server names them all, whoever asks. */
export function othersOf(everybody: readonly string[], mine: string): string[] {
  const me = Math.max(0, everybody.indexOf(mine));
  return everybody.filter((_, i) => i !== me);
}

/** "Also here: Ada", "Also here: Ada, Ben in 2 windows and 3 without a name": each once, whoever gave a name first. */
export function alsoHere(others: readonly string[]): string {
  const windows = new Map<string, number>();
  let nameless = 0;
  for (const name of others.map((n) => n.trim())) {
    if (name === '' || name === NOBODY) nameless++;
    else windows.set(name, (windows.get(name) ?? 0) + 1);
  }
  const said = [...windows].map(([name, many]) =>
    many === 1 ? name : say('{name} in {count} windows', { name, count: many }),
  );
  if (nameless)
    said.push(
      nameless === 1 ? say('somebody without a name') : say('{count} without a name', { count: nameless }),
    );
  return say('Also here: {names}', { names: said.length ? listing(said) : say('nobody') });
}
