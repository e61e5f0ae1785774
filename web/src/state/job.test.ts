import { afterEach, beforeEach, describe, expect, it, vi } from 'vitest';
import { JobStore } from './job.svelte';

vi.mock('../api/live', () => ({
  Live: class {
    map = () => null;
    mapOff() {}
    close() {}
  },
}));

/** The office: what a note says is refused, in the order the edits arrive. */
const office = (refused: (note: string) => boolean) =>
  vi.fn(async (path: string, init?: RequestInit) => {
    const answer = (status: number, body: unknown) =>
      new Response(JSON.stringify(body), { status, headers: { 'content-type': 'application/json' } });
    if (!path.endsWith('/edits'))
      return answer(200, { revision: 1, name: 'A job', document: {}, resolved: {} });
    const { note } = JSON.parse(String(init!.body)) as { note: string };
    return refused(note)
      ? answer(422, { error: { code: 'invalid', message: `${note} makes no sense` } })
      : answer(200, { revision: 2 });
  });
const patch = [{ op: 'add' as const, path: '/job/name', value: 'A' }];

let store: JobStore;
beforeEach(() => {
  vi.stubGlobal(
    'fetch',
    office((note) => note.startsWith('wrong')),
  );
  store = new JobStore('a');
});
afterEach(() => {
  store.close();
  vi.unstubAllGlobals();
});

describe('what an edit was refused for', () => {
  it('is told until an edit is made, by whichever way', async () => {
    expect(await store.try(patch, 'wrong move')).toBe(false);
    expect(store.trouble).toMatch('wrong move makes no sense');
    // A field of a form makes its edit itself.
    await store.edit(patch, 'a name');
    expect(store.trouble).toBeNull();
  });

  it('is not taken back by an edit that was under way before it was told', async () => {
    const first = store.try(patch, 'wrong move');
    const second = store.edit(patch, 'a name');
    await Promise.all([first, second]);
    expect(store.trouble).toMatch('wrong move makes no sense');
    await store.edit(patch, 'another name');
    expect(store.trouble).toBeNull();
  });

  it('stays while nothing is made', async () => {
    await store.try(patch, 'wrong move');
    await expect(store.edit(patch, 'wrong name')).rejects.toThrow('wrong name makes no sense');
    expect(store.trouble).toMatch('wrong move makes no sense');
  });
});

it('tells who took out what was chosen here, and offers no way back', async () => {
  store.close();
  let gone = false;
  vi.stubGlobal('fetch', async (path: string) => {
    const document = { loudspeakers: gone ? {} : { L4: {} } };
    const taken = { op: 'remove', path: '/loudspeakers/L4' };
    const body = path.includes('/history')
      ? [{ revision: 2, who: 'Ben', at: '', note: 'Take out L4', kind: 'edit', patch: [taken], inverse: [] }]
      : { revision: gone ? 2 : 1, name: 'A job', document, resolved: document };
    return new Response(JSON.stringify(body), { headers: { 'content-type': 'application/json' } });
  });
  store = new JobStore('a');
  await vi.waitFor(() => expect(store.revision).toBe(1));
  store.select({ table: 'loudspeakers', id: 'L4' });
  gone = true;
  await store.load();
  await vi.waitFor(() => expect(store.notice).toEqual({ text: 'Ben took out L4.', note: null }));
  expect(store.selected).toBeNull();
});
