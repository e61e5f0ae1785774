/** Changes that concern more than one thing: the server works the edit out, the person is asked where something goes along. */
import type { Thing } from '../api/document';
import { get, jobPath, send, words } from '../api/client';
import type { LinesView, PutOnView, RunAnswer, TakenOutView } from '../api/shapes';
import type { Operation, Patch } from '../lib/pointer';
import { called, named, namedTogether } from '../lib/called';
import { NAMES } from '../lib/forms';
import { told, type Said } from '../lib/told';
import type { JobStore, Question } from './job.svelte';
import { prefs } from './prefs.svelte';
import { say } from '../words/spoken.svelte';

/** Takes a thing out, with what hangs on it once that is agreed; returns whether it is gone. */
export async function takeOut(store: JobStore, thing: Thing): Promise<boolean> {
  // Once it is out nobody knows its name any more.
  const name = named(store.resolved, thing);
  const note = `Take out ${name.note}`;
  let patch: Patch = [{ op: 'remove', path: '/site/outline' }];
  let cable: string[] = [];
  if (thing.table !== 'site') {
    let view: TakenOutView;
    try {
      view = await send<TakenOutView>('POST', jobPath(store.id, '/take-out'), thing);
    } catch (e) {
      store.complain(words(e), thing);
      return false;
    }
    const along = view.along.map(here);
    const changed = [...view.changed.map(here), ...(await throughPassage(store, thing))];
    const kind = say(NAMES[thing.table]?.[0] ?? '');
    const title = say('Take out {kind} {name}?', { kind, name: name.said });
    const yes = along.length ? say('Take all of it out') : say('Take it out');
    if (!(await agreed(store, { title, yes, along, changed }))) return false;
    patch = view.patch;
    cable = view.cable.map(here);
  }
  if (!(await store.try(patch, note))) return false;
  if (store.selected?.table === thing.table && store.selected.id === thing.id) store.select(null);
  store.notice = { text: [say('Took out {name}.', { name: name.said }), ...cable].join(' '), note };
  return true;
}

/** A sentence of the server as it is read here. */
const here = (said: Said) => told(said, prefs.unit);

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
      .map(({ building }) =>
        say(
          'Run {run} of line {line} goes through it into {house}: it then needs a hole of its own there, or another way.',
          { run: r.id, line: r.line, house: house(building) },
        ),
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
  if (view.told.length) store.notice = { text: view.told.map(here).join(' '), note };
}

/** Takes several things out with one entry in the history; returns whether they are gone. */
export async function takeOutAll(store: JobStore, things: readonly Thing[]): Promise<boolean> {
  const [only, ...more] = things;
  if (!only) return false;
  if (!more.length) return takeOut(store, only);
  const { note: logged, said: name } = namedTogether(store.resolved, things);
  const note = `Take out ${logged}`;
  let views: TakenOutView[];
  let patch: Patch | null;
  try {
    views = await Promise.all(
      things.map((thing) => send<TakenOutView>('POST', jobPath(store.id, '/take-out'), thing)),
    );
    patch = together(await withLinesFreed(store, things, views));
  } catch (e) {
    store.complain(words(e));
    return false;
  }
  if (!patch) {
    store.complain(
      say('The same cable hangs on several of these. Take {name} out one after the other.', { name }),
    );
    return false;
  }
  const once = (texts: string[]) => [...new Set(texts)];
  const along = once(views.flatMap((v) => v.along.map(here)));
  const changed = once([
    ...views.flatMap((v) => v.changed.map(here)),
    ...(await Promise.all(things.map((t) => throughPassage(store, t)))).flat(),
  ]);
  const yes = along.length ? say('Take all of it out') : say('Take them out');
  const title = say('Take out {name}?', { name });
  if (!(await agreed(store, { title, yes, along, changed }))) return false;
  if (!(await store.try(patch, note))) return false;
  store.choose([]);
  store.notice = { text: say('Took out {name}.', { name }), note };
  return true;
}

/**
 * The edit of each thing. Loudspeakers that leave one line together do so in one edit of the server's, which joins the cable on
 * either side of all of them; what is left of their own edits comes after it.
 */
async function withLinesFreed(
  store: JobStore,
  things: readonly Thing[],
  views: readonly TakenOutView[],
): Promise<Patch[]> {
  const speakers = things.flatMap((t) => (t.table === 'loudspeakers' ? [t.id] : []));
  if (speakers.length < 2) return views.map((v) => v.patch);
  const asked = { loudspeakers: speakers, line: null, first: [] };
  const freed = await send<PutOnView>('POST', jobPath(store.id, '/put-on'), asked);
  const others = views.filter((_, i) => things[i]!.table !== 'loudspeakers').map((v) => v.patch);
  const theirs = views
    .filter((_, i) => things[i]!.table === 'loudspeakers')
    .flatMap((v) => v.patch)
    .filter((o) => !within(o.path, '/lines') && !/^\/loudspeakers\/[^/]+\/line$/.test(o.path));
  return [[...freed.patch, ...theirs], ...others];
}

const within = (path: string, above: string) => path === above || path.startsWith(`${above}/`);

/**
 * Edits that were worked out one by one for the same job as one edit; `null` where two of them change the same place, or count
 * the items of the same list.
 */
export function together(edits: readonly Patch[]): Patch | null {
  const all: Patch = [];
  for (const edit of edits) {
    const before = [...all];
    for (const o of edit) {
      if (
        before.some((b) => same(b, o) || (b.op === 'remove' && o.op === 'remove' && within(o.path, b.path)))
      )
        continue;
      if (before.some((b) => disturbs(b, o))) return null;
      all.push(o);
    }
  }
  return all;
}

const same = (a: Operation, b: Operation) =>
  a.op === b.op && a.path === b.path && JSON.stringify(a.value) === JSON.stringify(b.value);

function disturbs(before: Operation, o: Operation): boolean {
  const item = (path: string) => /\/(\d+|-)$/.test(path);
  const list = (path: string) => path.slice(0, path.lastIndexOf('/'));
  if (item(before.path) && item(o.path) && list(before.path) === list(o.path)) return true;
  if (before.path === o.path) return true;
  return before.op === 'remove' && within(o.path, before.path);
}
