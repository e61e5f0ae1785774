/** Whose units count: the open job's, else one's own. */
import { afterEach, expect, it } from 'vitest';
import { prefs } from './prefs.svelte';

afterEach(() => {
  prefs.reads(null);
  prefs.set({ unit: 'm' });
});

it('a job tells its units to everybody; one that says none is told as each has chosen', () => {
  prefs.set({ unit: 'ft' });
  prefs.reads('metric');
  expect([prefs.unit, prefs.own]).toEqual(['m', 'ft']);
  prefs.reads(undefined);
  expect(prefs.unit).toBe('ft');
  prefs.set({ unit: 'm' });
  prefs.reads('us');
  expect([prefs.unit, prefs.own]).toEqual(['ft', 'm']);
});

it('only what a person chose is remembered', () => {
  prefs.set({ unit: 'm' });
  prefs.reads('us');
  prefs.set({ name: 'Ada' });
  expect(JSON.parse(localStorage.getItem('loamline')!)).toMatchObject({ name: 'Ada', unit: 'm' });
});
