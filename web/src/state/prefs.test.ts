/** Whose units count: the open job's, else one's own. */
import { afterEach, expect, it } from 'vitest';
import { spoken } from '../words/spoken.svelte';
import { prefs } from './prefs.svelte';

afterEach(() => {
  prefs.reads(null);
  prefs.speaks({ job: null, firm: null, crews: null, crew: false });
  prefs.set({ unit: 'm', language: '' });
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

it('speaks the language somebody chose, else that of the job, else that of the firm', () => {
  prefs.speaks({ firm: 'en-us' });
  expect(spoken.language).toBe('en-us');
  prefs.speaks({ job: 'es' });
  expect(spoken.language).toBe('es');
  prefs.set({ language: 'en' });
  expect(spoken.language).toBe('en');
  // A job that says none leaves the firm's.
  prefs.set({ language: '' });
  prefs.speaks({ job: null });
  expect(spoken.language).toBe('en-us');
  expect(JSON.parse(localStorage.getItem('loamline')!)).toMatchObject({ language: '' });
});

it('speaks to a crew in its own language where the job says one, unless somebody chose another', () => {
  prefs.speaks({ job: 'en-us', crews: 'es' });
  expect(spoken.language).toBe('en-us');
  prefs.speaks({ crew: true });
  expect(spoken.language).toBe('es');
  // A job that says none of its crew speaks as the job does.
  prefs.speaks({ crews: null });
  expect(spoken.language).toBe('en-us');
  prefs.set({ language: 'es' });
  expect(spoken.language).toBe('es');
});
