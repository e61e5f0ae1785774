import { flushSync, mount, unmount } from 'svelte';
import { afterEach, expect, it, vi } from 'vitest';
import type { JobStore } from '../../state/job.svelte';
import { prefs } from '../../state/prefs.svelte';
import Propose from './Propose.svelte';

let made: object | null = null;
afterEach(() => {
  if (made) void unmount(made);
  prefs.set({ unit: 'm' });
  vi.restoreAllMocks();
  vi.unstubAllGlobals();
});

const option = {
  kinds: ['least-cost'],
  figures: { price: 1996, net: 1996, cable_m: 15.24, digging_m: 12.192 },
  choice_cost: 1500,
  unmet: [],
  matching: 'alike',
  notes: [
    {
      sentence: 'Terrace: 2 x Stake on 10 W, 5.2 m apart.',
      measures: [{ from: 28, to: 33, kind: 'length', value: 5.1816 }],
    },
  ],
  reasons: [],
  findings: [],
  edit: [],
};
const proposal = { currency: 'USD', options: [option], notes: [], places: 9, candidates: 9, bound: 1400 };
const words = [{ summary: '2 loudspeakers.', figures: { 'Price with tax': '1996.00 USD', Cable: '15 m' } }];

/** A job whose proposal is done as soon as it is asked for. */
class Office {
  id = 'j';
  document = {};
  resolved = { job: { currency: 'USD' }, areas: { area1: { outline: [] } }, buildings: {}, loudspeakers: {} };
  proposals = $state.raw({ r: { phase: 'Done', best_cost: 1996, bound: 1400, done: true } });
  preview = null;
  map = { ask: () => undefined };
  select = vi.fn();
}

/** 5.1816 m are 17 ft by definition. */
it('what was chosen is let go of, and the first offer comes into sight, told in the units of the reader', async () => {
  prefs.set({ unit: 'ft' });
  vi.stubGlobal('fetch', (path: string) => {
    const answer = path.endsWith('/propose') ? { run: 'r' } : { run: 'r', done: true, proposal, words };
    return Promise.resolve(new Response(JSON.stringify(answer)));
  });
  const shown: Element[] = [];
  vi.spyOn(Element.prototype, 'scrollIntoView').mockImplementation(function (this: Element) {
    shown.push(this);
  });
  const store = new Office();
  made = mount(Propose, { target: document.body, props: { store: store as unknown as JobStore } });
  flushSync();
  document.querySelector('form')!.dispatchEvent(new Event('submit', { bubbles: true, cancelable: true }));
  expect(store.select).toHaveBeenCalledWith(null);
  const card = await vi.waitFor(() => {
    const found = document.querySelector('[aria-label="Option 1"]');
    expect(found).not.toBeNull();
    return found!;
  });
  expect(shown.at(-1)).toBe(card);
  expect(card.textContent).toMatch('Terrace: 2 x Stake on 10 W, 17 ft apart.');
});

it('one alone that is to be compared asks for a second; the two side by side come into sight', async () => {
  const two = { ...proposal, options: [option, { ...option, kinds: ['balanced'] }] };
  const both = [words[0], { ...words[0], summary: '3 loudspeakers.' }];
  vi.stubGlobal('fetch', (path: string) => {
    const answer = path.endsWith('/propose')
      ? { run: 'r' }
      : { run: 'r', done: true, proposal: two, words: both };
    return Promise.resolve(new Response(JSON.stringify(answer)));
  });
  const shown: Element[] = [];
  vi.spyOn(Element.prototype, 'scrollIntoView').mockImplementation(function (this: Element) {
    shown.push(this);
  });
  const store = new Office();
  made = mount(Propose, { target: document.body, props: { store: store as unknown as JobStore } });
  flushSync();
  document.querySelector('form')!.dispatchEvent(new Event('submit', { bubbles: true, cancelable: true }));
  await vi.waitFor(() => expect(document.querySelector('[aria-label="Option 2"]')).not.toBeNull());
  const compare = () =>
    [...document.querySelectorAll('button')].filter((b) => b.textContent!.trim() === 'Compare');
  compare()[0]!.click();
  flushSync();
  expect(document.querySelector('[data-compare]')!.textContent).toMatch('at a second one');
  compare()[1]!.click();
  flushSync();
  expect(document.querySelector('[data-compare]')).toBeNull();
  expect(shown.at(-1)).toBe(document.querySelector('[data-beside]'));
});
