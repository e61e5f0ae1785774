import { flushSync, mount, unmount } from 'svelte';
import { afterEach, expect, it } from 'vitest';
import type { JobStore } from '../../state/job.svelte';
import { PAGES, route, type Page, type WorkPage } from '../../state/route.svelte';
import Guide from './Guide.svelte';

let made: object | null = null;
afterEach(() => {
  if (made) void unmount(made);
  route.job = null;
  document.body.innerHTML = '';
});

const none = Object.fromEntries(PAGES.map((page) => [page, false])) as Record<Page, boolean>;

it('every step leads to where it is done, what is done already too', () => {
  route.job = 'a';
  const resolved = { programmes: { music: {} }, site: {}, areas: {}, surfaces: {}, racks: {} };
  const store = { resolved } as unknown as JobStore;
  document.body.innerHTML = '<h2 id="played" tabindex="-1">What is played</h2>';
  made = mount(Guide, { target: document.body, props: { store, progress: none } });
  flushSync();
  const steps = [...document.querySelectorAll('li')];
  expect(steps.length).toBeGreaterThan(5);
  for (const step of steps) {
    const link = step.querySelector('a');
    const [, job, page] = (link?.getAttribute('href') ?? '').split('/');
    expect([job, PAGES.includes(page as WorkPage)], step.textContent!).toEqual(['a', true]);
    expect(link!.textContent).toContain(step.querySelector('b')!.textContent!);
  }
  // What is on this page is brought into sight and under the keys.
  const first = steps[0]!.querySelector('a')!;
  expect(first.getAttribute('href')).toBe('#/a/brief');
  first.click();
  expect(document.activeElement).toBe(document.getElementById('played'));
});
