import { afterEach, expect, it } from 'vitest';
import type { JobDocument } from '../api/document';
import { prefs } from '../state/prefs.svelte';
import { assumed } from './assumed';
import { TOOLS } from './tools';

const doc = {
  job: {},
  programmes: {},
  racks: {},
  surfaces: {},
  brief: { supply: '70.7 V' },
} as unknown as JobDocument;
afterEach(() => prefs.set({ unit: 'm' }));

/** What is said of a thing drawn with a tool. */
function said(key: string) {
  const { table, needs, shape } = TOOLS.find((t) => t.key === key)!;
  const given = typeof needs === 'function' ? needs({ doc, catalogue: null, points: [] }) : needs;
  const document = { [table]: { it: { ...(given as object), [shape]: [[0, 0]] } } };
  return assumed(document, doc, null, { table: table as 'areas', id: 'it' });
}

it('limits at a neighbour that nobody named are told, and so is every other figure', () => {
  for (const key of ['neighbour', 'window'])
    expect(said(key)).toBe(
      'Filled in as usual: limit by day 50 dBA, limit by night 40 dBA. Put in what holds here.',
    );
  expect(said('area')).toBe('Filled in as usual: level wanted 65 dBA. Put in what holds here.');
  expect(said('building')).toBe('Filled in as usual: height 5 m. Put in what holds here.');
  prefs.set({ unit: 'ft' });
  expect(said('wall')).toBe('Filled in as usual: height 6 ft. Put in what holds here.');
});

it('nothing is said where nothing was filled in', () => {
  // A rack is on the mains of the job.
  for (const key of ['property', 'no-go', 'mark', 'surface', 'service', 'rack']) expect(said(key)).toBeNull();
});
