import { afterEach, beforeEach, describe, expect, it, vi } from 'vitest';
import { version } from '../state/version.svelte';
import type { Edit } from './shapes';
import { sync } from './sync';

/** What the phone has on its disk. */
const disk = vi.hoisted(() => ({ edits: [] as unknown[] }));
vi.mock('./keep', () => ({
  keep: {
    edits: () => Promise.resolve([...disk.edits]),
    saveEdit: (edit: Edit) => {
      disk.edits = disk.edits.map((e) => ((e as Edit).n === edit.n ? edit : e));
      return Promise.resolve();
    },
    arrived: (edit: Edit) => {
      disk.edits = disk.edits.filter((e) => (e as Edit).n !== edit.n);
      return Promise.resolve();
    },
  },
}));

const reading = (n: number, sent: Edit['sent'] = null): Edit => ({
  n,
  job: 'a',
  edit_id: `edit-${n}`,
  base_revision: 4,
  visit: { id: 'V1', date: '2026-05-04', kind: 'building' },
  puts: [{ path: `/readings/A-${n}`, typed: { line: 'A', dc: '14.3 ohm' }, resolved: { line: 'A' } }],
  photo: null,
  who: 'Ada',
  note: 'Reading of line A',
  at: '2026-05-04T09:30:00Z',
  sent,
  held: null,
});

/** What the office was asked, in order. */
let asked: string[] = [];
/** What its first answer tells the page of itself. */
let tells = () => {};
beforeEach(() => {
  asked = [];
  tells = () => {};
  let revision = 5;
  vi.stubGlobal('fetch', (path: string, init: RequestInit) => {
    asked.push(`${init.method} ${path}`);
    tells();
    const body = init.method === 'POST' ? { revision: ++revision } : { revision, document: {}, resolved: {} };
    return Promise.resolve(new Response(JSON.stringify(body)));
  });
  Object.defineProperty(navigator, 'locks', {
    configurable: true,
    value: { request: (_: string, __: object, work: (lock: object) => unknown) => work({}) },
  });
});
afterEach(() => {
  version.state = 'same';
  vi.unstubAllGlobals();
});
const changed = { changed: () => {} };

describe('what a phone has kept', () => {
  it('is sent in its order where office and page are of one version', async () => {
    disk.edits = [reading(1), reading(2)];
    expect(await sync('a', changed)).toBe('all sent');
    expect(asked).toEqual(['GET /api/jobs/a', 'POST /api/jobs/a/edits', 'POST /api/jobs/a/edits']);
    expect(disk.edits).toEqual([]);
  });

  it('stays for the page that comes where they are not, even what was under way before', async () => {
    const under = reading(1, { base_revision: 4, patch: [] });
    disk.edits = [under, reading(2)];
    // The page learns of it by the first answer, before anything was sent.
    tells = () => (version.state = 'waits');
    expect(await sync('a', changed)).toBe('other version');
    expect(asked).toEqual(['GET /api/jobs/a']);
    expect(disk.edits).toEqual([under, reading(2)]);
  });

  it('is sent all the same where loading anew did not help', async () => {
    disk.edits = [reading(1)];
    tells = () => (version.state = 'stuck');
    expect(await sync('a', changed)).toBe('all sent');
    expect(disk.edits).toEqual([]);
  });
});
