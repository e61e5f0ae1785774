/** Changes that concern more than one thing: the server works the edit out, the person is asked where something goes along. */
import type { Thing } from '../api/document';
import { get, jobPath, send, words } from '../api/client';
import type { LinesView, PutOnView, RunAnswer, TakenOutView } from '../api/shapes';
import type { Patch } from '../lib/pointer';
import { called } from '../lib/called';
import { NAMES } from '../lib/forms';
import type { JobStore, Question } from './job.svelte';

/** Takes a thing out, with what hangs on it once that is agreed; returns whether it is gone. */
export async function takeOut(store: JobStore, thing: Thing): Promise<boolean> {
  // Once it is out nobody knows its name any more.
  const name = called(store.resolved, thing);
  const note = `Take out ${name}`;
  let patch: Patch = [{ op: 'remove', path: '/site/outline' }];
  let told: string[] = [];
  if (thing.table !== 'site') {
    let view: TakenOutView;
    try {
      view = await send<TakenOutView>('POST', jobPath(store.id, '/take-out'), thing);
    } catch (e) {
      store.complain(words(e), thing);
      return false;
    }
    const { along } = view;
    const changed = [...view.changed, ...(await throughPassage(store, thing))];
    const title = `Take out ${NAMES[thing.table]?.[0] ?? ''} ${name}?`;
    const yes = along.length ? 'Take all of it out' : 'Take it out';
    if (!(await agreed(store, { title, yes, along, changed }))) return false;
    patch = view.patch;
    told = view.cable;
  }
  if (!(await store.try(patch, note))) return false;
  if (store.selected?.table === thing.table && store.selected.id === thing.id) store.select(null);
  store.notice = { text: [`Took out ${name}.`, ...told].join(' '), note };
  return true;
}

/** Cable that goes through a passage needs a hole where it is taken out: said run by run. */
async function throughPassage(store: JobStore, thing: Thing): Promise<string[]> {
  if (thing.table !== 'passages') return [];
  // Where the lines cannot be worked out nothing is known to lie in it.
  const lines = await get<LinesView>(jobPath(store.id, '/lines')).catch(() => null);
  const house = (id: string) => called(store.resolved, { table: 'buildings', id });
  return passing(lines?.runs ?? [], thing.id, house);
}

/** What becomes of the runs that go through a passage once it is gone. */
export const passing = (
  runs: Pick<RunAnswer, 'line' | 'id' | 'through'>[],
  passage: string,
  house: (id: string) => string = (id) => id,
): string[] =>
  runs.flatMap((r) =>
    r.through
      .filter((opening) => opening.passage === passage)
      .map(
        ({ building }) =>
          `Run ${r.id} of line ${r.line} goes through it into ${house(building)}: it then needs a hole of its own there, or another way.`,
      ),
  );

/** Whether the person agrees to what goes along and changes; where nothing does there is nothing to ask. */
export function agreed(store: JobStore, asked: Omit<Question, 'decide'>): Promise<boolean> {
  if (asked.along.length + asked.changed.length === 0) return Promise.resolve(true);
  return new Promise((resolve) => {
    store.question = {
      ...asked,
      decide: (goOn) => {
        store.question = null;
        resolve(goOn);
      },
    };
  });
}

/**
 * Puts loudspeakers on a line, or on none, with the cable and the tap that go with it; `first` is carried out in the same
 * edit. Throws what the server has against it.
 */
export async function putOn(
  store: JobStore,
  loudspeakers: string[],
  line: string | null,
  note: string,
  first: Patch = [],
): Promise<void> {
  const asked = { loudspeakers, line, first };
  const view = await send<PutOnView>('POST', jobPath(store.id, '/put-on'), asked);
  await store.edit(view.patch, note);
  if (view.told.length) store.notice = { text: view.told.join(' '), note };
}
