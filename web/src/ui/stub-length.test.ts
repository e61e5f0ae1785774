import { flushSync, mount, unmount } from 'svelte';
import { afterEach, expect, it, vi } from 'vitest';
import type { JobStore } from '../state/job.svelte';
import { prefs } from '../state/prefs.svelte';
import StubLength from './StubLength.svelte';

let made: object | null = null;
afterEach(() => {
  if (made) void unmount(made);
  prefs.set({ unit: 'm' });
  vi.unstubAllGlobals();
});

/** 15.24 m are 50 ft and 20 C are 68 F by definition. */
it('a reader of feet is told lengths in feet and asked for degrees Fahrenheit', async () => {
  prefs.set({ unit: 'ft' });
  const said = {
    sentence: 'The existing cable at stub-out T1 is 15.2 m long.',
    measures: [{ from: 37, to: 43, kind: 'length', value: 15.24 }],
  };
  const answer = JSON.stringify({ length_m: 15.24, sentences: [said], edit: [] });
  const office = vi.fn((..._asked: [string, RequestInit]) => Promise.resolve(new Response(answer)));
  vi.stubGlobal('fetch', office);
  const store = { id: 'j', resolved: { stubs: { T1: { cable: 'old', rack: 'R1' } }, visits: {} } };
  made = mount(StubLength, {
    target: document.body,
    props: { store: store as unknown as JobStore, id: 'T1' },
  });
  flushSync();
  const [reads, warm] = [...document.querySelectorAll('input')] as [HTMLInputElement, HTMLInputElement];
  expect(warm.placeholder).toBe('68 F');
  reads.value = '1.9';
  reads.dispatchEvent(new Event('input', { bubbles: true }));
  warm.value = '68';
  warm.dispatchEvent(new Event('input', { bubbles: true }));
  document.querySelector('form')!.dispatchEvent(new Event('submit', { bubbles: true, cancelable: true }));
  await vi.waitFor(() => expect(document.body.textContent).toMatch('is 50 ft long.'));
  expect(JSON.parse(String(office.mock.calls[0]![1].body))).toEqual({ dc_ohm: 1.9, temperature_c: 20 });
});
