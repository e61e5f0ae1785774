/**
 * Sends what the phone has collected: in the order of the queue, each exactly once.
 *
 * An edit is fixed and kept with its number before it is sent the first time, and sent again exactly so until there is
 * an answer: the server knows the number. Only an answer "not applied" lets it be made anew on the newest revision. What
 * meets a change of somebody else, or is refused, is set aside for the person and holds up nothing behind it.
 *
 * Nothing is sent before the job was read: the answer tells whether office and page are of one version. Where they are not,
 * all of it stays on the phone until the page has loaded itself anew (state/version), and the new page sends it.
 */
import { get, jobPath, Refused, send, upload, words } from '../api/client';
import type { HistoryEntry, JobView } from '../api/shapes';
import { version } from '../state/version.svelte';
import { applyPuts, joins, meets, patchOf, placeOf, valueAt } from './document';
import { keep } from './keep';
import type { Edit, Held, Put } from './shapes';

/** How a round of sending ended. */
export type Outcome = 'all sent' | 'out of reach' | 'not paired' | 'gone' | 'busy' | 'other version';

/** The newest state of the job the phone knows of. */
interface Base {
  revision: number;
  document: Record<string, unknown>;
}

export interface Progress {
  /** Something left the queue, or was set aside. */
  changed(): void;
}

/** Sends everything of a job that waits. Of several pages on one phone only one sends at a time. */
export async function sync(job: string, progress: Progress): Promise<Outcome> {
  return navigator.locks.request(`loamline-sync-${job}`, { ifAvailable: true }, (lock) =>
    lock ? round(job, progress) : Promise.resolve<Outcome>('busy'),
  );
}

async function round(job: string, progress: Progress): Promise<Outcome> {
  let base: Base | null = null;
  try {
    for (;;) {
      const edit = (await keep.edits(job)).find((e) => e.held === null);
      if (!edit) return 'all sent';
      base ??= await fetchBase(job);
      if (version.state === 'waits') return 'other version';
      base = await sendOne(edit, base);
      progress.changed();
    }
  } catch (e) {
    const end = outcomeOf(e);
    if (end) return end;
    throw e;
  }
}

function outcomeOf(e: unknown): Outcome | null {
  if (!(e instanceof Refused)) return null;
  if (e.status === 0 || e.status >= 500 || e.status === 408 || e.status === 429) return 'out of reach';
  // What the device's role does not allow is told the person, and holds up nothing.
  if (e.code === 'not_allowed') return null;
  if (e.status === 401 || e.status === 403) return 'not paired';
  return e.status === 404 ? 'gone' : null;
}

/** Sends one edit, or sets it aside; the base for the next one, `null` when it has to be fetched. */
async function sendOne(edit: Edit, known: Base | null): Promise<Base | null> {
  if (edit.photo) await sendPhoto(edit.photo, edit.job);
  let base = known;
  let fixed = edit.sent ? edit : null;
  for (;;) {
    if (!fixed) {
      base ??= await fetchBase(edit.job);
      edit = await joined(edit, base.document);
      const met = meets(base.document, edit);
      if (met.kind === 'there') {
        await keep.arrived(edit, null);
        return base;
      }
      if (met.kind === 'conflict') {
        const theirs_who = await whoChanged(edit, met.put);
        const { path, typed: mine } = met.put;
        await hold(edit, { why: 'conflict', path, mine, theirs: met.theirs, theirs_who });
        return base;
      }
      const sent = {
        base_revision: base.revision,
        measured_revision: Math.min(edit.base_revision, base.revision),
        patch: patchOf(base.document, edit),
      };
      fixed = { ...edit, sent };
      await keep.saveEdit(fixed);
    }
    const { edit_id, who, note, at } = fixed;
    try {
      const answer = await send<{ revision: number }>('POST', jobPath(edit.job, '/edits'), {
        edit_id,
        ...fixed.sent,
        who,
        note,
        at,
      });
      await keep.arrived(fixed, answer.revision);
      // The next edit builds on this one, if nobody else was in between.
      if (!base || answer.revision !== base.revision + 1 || fixed.sent?.base_revision !== base.revision) {
        return null;
      }
      const document = applyPatch(base.document, fixed);
      return { revision: answer.revision, document };
    } catch (e) {
      if (!(e instanceof Refused) || outcomeOf(e)) throw e;
      if (e.status === 409) {
        // Not applied: somebody was faster. Look at what there is now and make it anew, under a new number.
        base = null;
        edit = { ...fixed, sent: null, edit_id: crypto.randomUUID() };
        await keep.saveEdit(edit);
        fixed = null;
        continue;
      }
      await hold({ ...fixed, sent: null }, { why: 'refused', sentence: words(e) });
      return null;
    }
  }
}

/** An entry of the phone's own visit in that of the office, where the office made one of that day and kind meanwhile. */
async function joined(edit: Edit, document: Record<string, unknown>): Promise<Edit> {
  const visits = (document.visits ?? {}) as Parameters<typeof joins>[0];
  const visit = joins(visits, edit.visit);
  if (!visit) return edit;
  const moved = { ...edit, visit };
  await keep.saveEdit(moved);
  return moved;
}

const applyPatch = (document: Record<string, unknown>, edit: Edit) =>
  applyPuts({ document, resolved: {} as never }, edit).document;

async function fetchBase(job: string): Promise<Base> {
  const view = await get<JobView>(jobPath(job));
  return { revision: view.revision, document: view.document as Record<string, unknown> };
}

async function sendPhoto(name: string, job: string) {
  const photo = await keep.photo(name);
  if (!photo || photo.sent) return;
  await upload('PUT', jobPath(job, `/attachments/${encodeURIComponent(name)}`), photo.blob, photo.blob.type);
  await keep.savePhoto({ ...photo, sent: true });
}

async function hold(edit: Edit, held: Held) {
  await keep.saveEdit({ ...edit, sent: null, held });
}

/** Who changed a place last, as far as the log tells. */
async function whoChanged(edit: Edit, put: Put): Promise<string> {
  const place = placeOf(edit, put);
  const log = await get<HistoryEntry[]>(jobPath(edit.job, '/history?limit=200')).catch(() => []);
  const last = log.find((entry) =>
    entry.patch.some((o) => `${o.path}/`.startsWith(`${place}/`) || `${place}/`.startsWith(`${o.path}/`)),
  );
  return last?.who || 'somebody';
}

/** Sends a held edit once more, over whatever is there now. */
export async function keepMine(edit: Edit) {
  const { document } = await fetchBase(edit.job);
  const puts = edit.puts.map((p) => ({ ...p, was: valueAt(document, edit, p) }));
  await keep.saveEdit({ ...edit, puts, held: null, sent: null, edit_id: crypto.randomUUID() });
}

/** Gives up a held edit: the person has seen both and chose the other. */
export const keepTheirs = (edit: Edit) => keep.dropEdit(edit.n);
