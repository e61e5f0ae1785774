import { flushSync, mount, unmount } from 'svelte';
import { afterEach, expect, it } from 'vitest';
import type { JobSummary, MeView } from '../../api/shapes';
import { Busy } from '../../state/busy.svelte';
import { me } from '../../state/me.svelte';
import JobCard from './JobCard.svelte';

const JOB = {
  id: 'a-job',
  name: 'A garden',
  client: '',
  summary: '',
  status: '',
  revision: 3,
  changed_at: '2026-05-04T09:30:00Z',
} as unknown as JobSummary;

let made: object | null = null;
afterEach(() => {
  if (made) void unmount(made);
  me.view = null;
});

/** The card of a job on the device of somebody with this role. */
function card(role: string) {
  me.view = { here: false, role, passkeys: [] } as unknown as MeView;
  const nothing = () => {};
  const props = {
    job: JOB,
    statuses: [],
    making: new Busy(),
    setStatus: nothing,
    keep: nothing,
    duplicate: () => Promise.resolve(),
    remove: nothing,
    wait: nothing,
  };
  made = mount(JobCard, { target: document.body, props });
  flushSync();
  return {
    opens: document.querySelector('a.open')!.getAttribute('href'),
    changes: document.querySelectorAll('button, select').length,
  };
}

it('a crew is led to readings, ticks and photos, and offered nothing that is refused it', () => {
  expect(card('crew')).toEqual({ opens: '#along/a-job/measure', changes: 0 });
});

it('the office opens the job and does all there is to do with it', () => {
  const { opens, changes } = card('designer');
  expect(opens).toBe('#/a-job/brief');
  expect(changes).toBeGreaterThan(3);
});
