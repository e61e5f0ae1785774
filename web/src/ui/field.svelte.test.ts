import { flushSync, mount, unmount } from 'svelte';
import { afterEach, describe, expect, it, vi } from 'vitest';
import type { Patch } from '../lib/pointer';
import type { JobStore } from '../state/job.svelte';
import { prefs } from '../state/prefs.svelte';
import { spoken } from '../words/spoken.svelte';
import Field from './Field.svelte';

/** A job in which nothing typed into a field is taken, but what an edit is given for. */
class Office {
  document = $state.raw({ stubs: { T1: { cable: 'old' } as Record<string, unknown> } });
  notice = $state.raw<{ text: string; note: string | null } | null>(null);
  get resolved() {
    return this.document;
  }
  edit: (patch: Patch, note: string) => Promise<void> = () =>
    Promise.reject(new Error('"unknown" is not a length'));
  /** Somebody sets the length, in whatever window. */
  set(length: unknown) {
    this.document = { stubs: { T1: { cable: 'old', length } } };
    flushSync();
  }
}
const LENGTH = { path: '/stubs/T1', type: 'Stub', field: 'length', label: 'Length' };

/** The field of a job, with the cursor in it. */
function within(store: Office) {
  made = mount(Field, { target: document.body, props: { store: store as unknown as JobStore, ...LENGTH } });
  flushSync();
  const input = document.querySelector('input')!;
  input.focus();
  const fire = (kind: string) => {
    input.dispatchEvent(new Event(kind, { bubbles: true }));
    flushSync();
  };
  const type = (text: string) => {
    input.value = text;
    fire('input');
  };
  const told = () => document.querySelector('.meanwhile')?.textContent?.trim() ?? null;
  return { input, fire, type, told };
}

let made: object | null = null;
afterEach(() => {
  if (made) void unmount(made);
  prefs.set({ unit: 'm' });
  void spoken.speaks(null);
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
  expect(box()).toBe('for example 25 m');
  prefs.set({ unit: 'ft' });
  flushSync();
  expect(box()).toBe('for example 80 ft');
});

it('speaks the language of the office, and what it enters in the log stays English', async () => {
  await spoken.speaks('es');
  const store = new Office();
  const notes: string[] = [];
  store.edit = (patch, note) => {
    notes.push(note);
    store.set(patch[0]!.value);
    return Promise.resolve();
  };
  const { input, fire, type } = within(store);
  expect(document.querySelector('label')!.textContent).toBe('Largo');
  expect(input.placeholder).toBe('por ejemplo 25 m');
  type('5 m');
  fire('change');
  await vi.waitFor(() => expect(notes).toEqual(['Change length']));
});

describe('two windows in one field', () => {
  it('the one that types is told what was set meanwhile, and that it replaced it', async () => {
    const store = new Office();
    store.set('3 m');
    store.edit = (patch) => {
      store.set(patch[0]!.value);
      return Promise.resolve();
    };
    const { input, fire, type, told } = within(store);
    type('5 m');
    expect(told()).toBeNull();
    store.set('4 m');
    expect(told()).toBe('Set to "4 m" meanwhile: what is typed here replaces that, Escape keeps it.');
    // What is typed stays.
    expect(input.value).toBe('5 m');
    fire('change');
    await vi.waitFor(() => expect(store.notice).not.toBeNull());
    expect(store.notice).toEqual({
      text: 'Length: what was typed here replaced "4 m", set meanwhile.',
      note: 'Change length',
    });
    flushSync();
    expect([input.value, told()]).toEqual(['5 m', null]);
  });

  it('Escape keeps what the other window set', () => {
    const store = new Office();
    store.set('3 m');
    const { input, type, told } = within(store);
    type('5 m');
    store.set('4 m');
    input.dispatchEvent(new KeyboardEvent('keydown', { key: 'Escape', bubbles: true }));
    flushSync();
    expect([input.value, told(), store.notice]).toEqual(['4 m', null, null]);
  });

  it('the one whose value was replaced is told what it was, until it is left', () => {
    const store = new Office();
    store.set('3 m');
    const { fire, told } = within(store);
    store.set('4 m');
    expect(told()).toBe('Changed meanwhile; it was "3 m".');
    fire('focusout');
    expect(told()).toBeNull();
  });

  it('nothing is said of what this window set itself, nor of other units', async () => {
    const store = new Office();
    store.set('3 m');
    store.edit = (patch) => {
      store.set(patch[0]!.value);
      return Promise.resolve();
    };
    const { fire, type, told } = within(store);
    type('5 m');
    fire('change');
    await new Promise((done) => setTimeout(done));
    flushSync();
    expect([told(), store.notice]).toEqual([null, null]);
    store.set(2);
    fire('focusout');
    prefs.set({ unit: 'ft' });
    flushSync();
    expect(told()).toBeNull();
  });
});

describe("the browser's own undo", () => {
  const history = (input: HTMLInputElement, text: string) => {
    input.value = text;
    input.dispatchEvent(new InputEvent('input', { bubbles: true, inputType: 'historyUndo' }));
    flushSync();
  };

  it('puts no text that was taken over back into a box, and makes no edit of it', async () => {
    const store = new Office();
    store.set('100 ft');
    const edits: unknown[] = [];
    store.edit = (patch) => {
      edits.push(patch[0]!.value);
      store.set(patch[0]!.value);
      return Promise.resolve();
    };
    const { input, fire, type } = within(store);
    type('500 ft');
    fire('change');
    input.blur();
    await vi.waitFor(() => expect(edits).toEqual(['500 ft']));
    await new Promise((done) => setTimeout(done));
    flushSync();
    history(input, '100 ft');
    expect(input.value).toBe('500 ft');
    fire('change');
    await new Promise((done) => setTimeout(done));
    expect(edits).toEqual(['500 ft']);
    // What the job's own undo brings back is shown.
    store.set('100 ft');
    expect(input.value).toBe('100 ft');
  });

  it('takes back what is being typed', () => {
    const store = new Office();
    store.set('100 ft');
    const { input, type } = within(store);
    type('5');
    type('50');
    history(input, '5');
    expect(input.value).toBe('5');
  });
});

it('an amount of money is read as people write it, and what is wrong with one is told', async () => {
  const store = new Office();
  Object.assign(store, { document: { job: { currency: 'USD' }, brief: {} } });
  const edits: unknown[] = [];
  store.edit = (patch) => {
    edits.push(patch[0]!.value);
    return Promise.resolve();
  };
  made = mount(Field, {
    target: document.body,
    props: {
      store: store as unknown as JobStore,
      path: '/brief',
      type: 'Brief',
      field: 'budget',
      label: 'Budget',
    },
  });
  flushSync();
  const input = document.querySelector('input')!;
  const enter = (text: string) => {
    input.value = text;
    input.dispatchEvent(new Event('input', { bubbles: true }));
    input.dispatchEvent(new Event('change', { bubbles: true }));
    flushSync();
  };
  enter('$12,500');
  await vi.waitFor(() => expect(edits).toEqual([12500]));
  enter('12,500 EUR');
  expect(document.querySelector('.problem')!.textContent).toMatch('is no amount in USD');
  expect(edits).toEqual([12500]);
});

it('a tick that nothing is said of shows what is usual, and setting it so says nothing again', async () => {
  const store = {
    document: { surfaces: { s1: { kind: 'bed' } as Record<string, unknown> } },
    resolved: { surfaces: { s1: { kind: 'bed', loudspeakers: null } } },
    edits: [] as Patch[],
    edit(patch: Patch) {
      this.edits.push(patch);
      return Promise.resolve();
    },
  };
  const field = {
    path: '/surfaces/s1',
    type: 'Surface',
    field: 'loudspeakers',
    label: 'Loudspeakers may stand here',
  };
  const props = { ...field, holds: true, usually: 'as usual for a bed', store: store as unknown as JobStore };
  made = mount(Field, { target: document.body, props });
  flushSync();
  const tick = document.querySelector('input')!;
  expect(tick.checked).toBe(true);
  expect(document.querySelector('label')!.textContent).toContain('as usual for a bed');
  tick.click();
  await new Promise((done) => setTimeout(done));
  expect(store.edits[0]![0]).toMatchObject({ path: '/surfaces/s1/loudspeakers', value: false });
  store.document.surfaces.s1!.loudspeakers = false;
  tick.click();
  await new Promise((done) => setTimeout(done));
  expect(store.edits[1]![0]).toMatchObject({ op: 'remove', path: '/surfaces/s1/loudspeakers' });
});
