/** What is done with jobs that are not open: made, edited, copied. */
import { get, jobPath, request, send, upload } from '../../api/client';
import type { JobSummary, JobView } from '../../api/shapes';
import { takeOut, put, type Patch } from '../../lib/pointer';
import { begun, copyName, renaming, type Answers } from '../../lib/start';
import { prefs } from '../../state/prefs.svelte';
import { noted } from '../../words/spoken.svelte';

/** An edit of a job that is not open. */
async function edit(id: string, patchOf: (document: unknown) => Patch, note: string) {
  const { revision, document } = await get<JobView>(jobPath(id));
  const patch = patchOf(document);
  if (!patch.length) return;
  await send('POST', jobPath(id, '/edits'), {
    edit_id: crypto.randomUUID(),
    base_revision: revision,
    patch,
    who: prefs.who,
    note,
  });
}

/** A new job that begins as was answered; its id. */
export async function startEmpty(name: string, answers: Answers): Promise<string> {
  const { id } = await send<{ id: string }>('POST', '/jobs', { name, from: 'empty' });
  await edit(id, (document) => begun(document, answers), noted('Begin the job').note);
  return id;
}

/** The example as a job of one's own; its id. */
export async function startExample(name: string): Promise<string> {
  return (await send<{ id: string }>('POST', '/jobs', { name, from: 'example' })).id;
}

/** A job brought in as a folder; its id. The ticket tells its place in the queue. */
export async function bringIn(zip: Blob, ticket: string): Promise<string> {
  const path = `/jobs/import?ticket=${ticket}`;
  return (await upload<{ id: string }>('POST', path, zip, 'application/zip')).id;
}

/** A copy with all there is in it: its folder, taken out and brought in again under a name that is not taken. */
export async function duplicate(job: JobSummary, taken: readonly string[], ticket: string) {
  const zip = await (await request('GET', `${jobPath(job.id, '/export')}?ticket=${ticket}`)).blob();
  const id = await bringIn(zip, crypto.randomUUID());
  const name = copyName(job.name, taken);
  await edit(id, (document) => renaming(document, name), `Copy of ${job.name}`);
}

/** How far a job is; nothing takes the status out. */
export const setStatus = (id: string, status: string) =>
  edit(
    id,
    (document) => (status ? put(document, '/job/status', status) : takeOut(document, '/job/status')),
    status ? `Status: ${status}` : noted('Take out the status').note,
  );
