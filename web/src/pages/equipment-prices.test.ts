import { flushSync, mount, unmount } from 'svelte';
import { afterEach, expect, it, vi } from 'vitest';
import type { JobStore } from '../state/job.svelte';
import Equipment from './Equipment.svelte';

let made: object | null = null;
afterEach(() => {
  if (made) void unmount(made);
  vi.unstubAllGlobals();
});

/** The page of a job whose models are told with or without their prices. */
function page(model: object): string {
  vi.stubGlobal('fetch', () => Promise.resolve(new Response('[]')));
  const resolved = { job: { currency: 'USD' }, loudspeakers: {}, amplifiers: {}, lines: {}, stubs: {} };
  const catalogue = { loudspeakers: { 'stake-110': { description: 'On a stake', ...model } } };
  const store = { id: 'a', document: {}, resolved, catalogue } as unknown as JobStore;
  made = mount(Equipment, { target: document.body, props: { store } });
  flushSync();
  return `${document.body.textContent}`;
}

it('a model has its price, and none where it is not told', () => {
  expect(page({ price: '104' })).toContain('USD 104.00');
  void unmount(made!);
  made = null;
  const without = page({});
  expect(without).toContain('On a stake');
  expect(without).not.toMatch(/NaN|USD/);
});
