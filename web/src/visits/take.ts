/** Fetches everything a phone needs and keeps it. */
import { get, jobPath, request } from '../api/client';
import type { HistoryEntry, PapersView } from '../api/shapes';
import type { JobDocument } from '../api/document';
import { difference } from './clock';
import { keep } from './keep';
import { expectedOf, type VisitPack } from './packed';
import { hold } from './room';
import { say } from '../words/spoken.svelte';
import { FORMAT } from './rules';
import type { Change, Pack, Paper } from './shapes';

/** Takes a job along, or brings one that was taken along up to date. */
export async function take(id: string): Promise<Pack> {
  const asked_ms = Date.now();
  const got = await get<VisitPack>(jobPath(id, '/visit-pack'));
  // Kept in a form this page does not know it would be read wrongly, here and by the page that comes.
  if (got.format !== FORMAT)
    throw new Error(
      say('the office machine runs another version of loamline; this page has to be loaded anew.'),
    );
  const before = await keep.pack(id);
  const [changes, papers, underlay] = await Promise.all([
    sinceHandover(id, got.resolved),
    papersOf(id, got.revision, before),
    picture(id, got.resolved.site.underlay?.image ?? null),
  ]);
  const pack: Pack = {
    format: got.format,
    id,
    name: got.name,
    revision: got.revision,
    taken_at: got.at,
    clock_ms: difference(got.at, (asked_ms + Date.now()) / 2),
    document: got.document,
    resolved: got.resolved,
    catalogue: got.catalogue,
    runs: got.runs.map((r) => ({ ...r, order_m: r.length.order_m })),
    expect: Object.fromEntries(Object.entries(got.expect).map(([line, l]) => [line, expectedOf(l)])),
    readings: got.readings,
    tables: got.tables,
    rules: got.rules,
    no_tables: got.no_tables,
    holes: got.holes,
    order: got.order,
    order_spoken: got.order_spoken,
    language: got.language,
    changes,
    papers,
    underlay,
  };
  await keep.savePack(pack);
  void hold();
  return pack;
}

const handoversOf = (doc: JobDocument) =>
  Object.entries(doc.visits)
    .filter(([, v]) => v.kind === 'handover')
    .map(([id]) => id);

/** What was done to the job after the last handover was entered, visits excepted; newest first. */
async function sinceHandover(id: string, doc: JobDocument): Promise<Change[] | null> {
  const handovers = handoversOf(doc);
  if (!handovers.length) return null;
  const latest = handovers.at(-1)!;
  const all: Change[] = [];
  for (let before: number | null = null; ;) {
    const query: string = before === null ? '' : `&before=${before}`;
    const log: HistoryEntry[] = await get<HistoryEntry[]>(jobPath(id, `/history?limit=200${query}`)).catch(
      () => [],
    );
    for (const entry of log) {
      const made = entry.patch.some((o) => o.op === 'add' && isVisit(o.path, o.value, latest));
      if (made) return all;
      if (!entry.patch.every((o) => /^\/visits(\/|$)/.test(o.path))) {
        all.push({ revision: entry.revision, who: entry.who, at: entry.at, note: entry.note });
      }
    }
    // A page of very large edits is short: only an empty one is the end.
    if (!log.length) return all;
    before = log.at(-1)!.revision;
  }
}

const isVisit = (path: string, value: unknown, id: string) =>
  path === `/visits/${id}` ||
  (path === '/visits' && typeof value === 'object' && value !== null && id in value);

/** The papers, fetched again when the job changed. None when this machine writes none. */
async function papersOf(id: string, revision: number, before: Pack | undefined): Promise<Paper[]> {
  if (before?.revision === revision && before.papers.length) return before.papers;
  const list = await get<PapersView>(jobPath(id, '/papers')).catch(() => null);
  const wanted = (list?.documents ?? []).filter((d) => d.file.endsWith('.pdf'));
  return Promise.all(
    wanted.map(async ({ file, title, part }) => ({
      file,
      title,
      part,
      pdf: await blob(jobPath(id, `/papers/${file}`)),
    })),
  );
}

const picture = (id: string, name: string | null) =>
  name ? blob(jobPath(id, `/attachments/${encodeURIComponent(name)}`)) : Promise.resolve(null);

const blob = (path: string): Promise<Blob | null> =>
  request('GET', path).then(
    (r) => r.blob(),
    () => null,
  );
