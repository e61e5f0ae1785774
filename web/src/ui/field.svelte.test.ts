import { flushSync, mount, unmount } from 'svelte';
import { afterEach, expect, it } from 'vitest';
import type { JobStore } from '../state/job.svelte';
import { prefs } from '../state/prefs.svelte';
import Field from './Field.svelte';

/** A job in which nothing typed into a field is taken. */
class Office {
  document = $state.raw({ stubs: { T1: { cable: 'old' } as Record<string, unknown> } });
  get resolved() {
    return this.document;
  }
  edit = () => Promise.reject(new Error('"unknown" is not a length'));
}

let made: object | null = null;
afterEach(() => {
  if (made) void unmount(made);
  prefs.set({ unit: 'm' });
});

it('what was refused goes once the value is made elsewhere', async () => {
  const store = new Office();
  made = mount(Field, {
    target: document.body,
    props: {
      store: store as unknown as JobStore,
      path: '/stubs/T1',
      type: 'Stub',
      field: 'length',
      label: 'Length',
    },
  });
  flushSync();
  const input = document.querySelector('input')!;
  input.value = 'unknown';
  input.dispatchEvent(new Event('input', { bubbles: true }));
  input.dispatchEvent(new Event('change', { bubbles: true }));
  await new Promise((done) => setTimeout(done));
  flushSync();
  expect(document.querySelector('.problem')!.textContent).toMatch('is not a length');
  expect(input.value).toBe('unknown');
  store.document = { stubs: { T1: { cable: 'old', length: 31.5 } } };
  flushSync();
  expect(document.querySelector('.problem')).toBeNull();
  expect(input.value).toBe('31.5 m');
});

it('an empty box gives one example, in the units of the reader', () => {
  const store = new Office();
  const length = { path: '/stubs/T1', type: 'Stub', field: 'length', label: 'Length' };
  made = mount(Field, { target: document.body, props: { store: store as unknown as JobStore, ...length } });
  flushSync();
  const box = () => document.querySelector('input')!.placeholder;
  expect(box()).toBe('for example 3.8 m');
  prefs.set({ unit: 'ft' });
  flushSync();
  expect(box()).toBe('for example 12 ft');
});
