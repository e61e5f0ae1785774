import { afterEach, describe, expect, it } from 'vitest';
import type { JobDocument } from '../api/document';
import { called, givenName, named, namedTogether } from './called';
import { spoken } from '../words/spoken.svelte';

afterEach(() => spoken.speaks(null));

const doc = {
  areas: { area1: { name: 'Dining terrace' }, area2: { name: '' } },
  no_go: { 'no-go1': { reason: 'Roots of the old beech' } },
  racks: { R1: { name: 'Plant room' } },
  buildings: {
    house: { name: 'The long house\nbeyond the yard, with its lean-to and all that was built onto it' },
  },
} as unknown as JobDocument;

describe('what a thing is called', () => {
  it('is the name somebody gave it, and its id where nobody did', () => {
    expect(called(doc, { table: 'areas', id: 'area1' })).toBe('Dining terrace');
    expect(called(doc, { table: 'areas', id: 'area2' })).toBe('area2');
    expect(called(doc, { table: 'areas', id: 'gone' })).toBe('gone');
    expect(called(doc, { table: 'no_go', id: 'no-go1' })).toBe('Roots of the old beech');
    expect(called(null, { table: 'areas', id: 'area1' })).toBe('area1');
  });

  it('is the tag a crew finds on it, where it carries one', () => {
    expect(called(doc, { table: 'racks', id: 'R1' })).toBe('R1');
    expect(called(doc, { table: 'site', id: '' })).toBe('the outline of the property');
  });

  it('is told beside the tag, where somebody gave a name', () => {
    expect(givenName(doc, { table: 'racks', id: 'R1' })).toBe('Plant room');
    expect(givenName(doc, { table: 'racks', id: 'R1' }, 6)).toBe('Plant…');
    expect(givenName(doc, { table: 'racks', id: 'gone' })).toBe('');
    expect(givenName(null, { table: 'racks', id: 'R1' })).toBe('');
    // These go by their name: it is not said twice.
    expect(givenName(doc, { table: 'areas', id: 'area1' })).toBe('');
    expect(givenName(doc, { table: 'site', id: '' })).toBe('');
  });

  it('fits into an entry of the history: one line, no longer than that', () => {
    const name = called(doc, { table: 'buildings', id: 'house' });
    expect(name).toMatch(/^The long house beyond the yard/);
    expect(name.length).toBeLessThanOrEqual(60);
  });
});

it('what no name was given is called in the language of the reader, and in English in the log', async () => {
  await spoken.speaks('es');
  const racks = ['R1', 'R2', 'R3', 'R4'].map((id) => ({ table: 'racks' as const, id }));
  expect(named(doc, { table: 'site', id: '' })).toEqual({
    note: 'the outline of the property',
    said: 'el contorno de la propiedad',
  });
  expect(namedTogether(doc, racks)).toEqual({ note: '4 things', said: '4 cosas' });
  expect(namedTogether(doc, racks.slice(0, 2)).note).toBe('R1 and R2');
});

it('several things are called by their names, many by how many they are', () => {
  const racks = ['R1', 'R2', 'R3', 'R4'].map((id) => ({ table: 'racks' as const, id }));
  const together = (...things: Parameters<typeof namedTogether>[1][number][]) =>
    namedTogether(doc, things).said;
  expect(together({ table: 'areas', id: 'area1' }, racks[0]!)).toBe('Dining terrace and R1');
  expect(together(...racks.slice(0, 3))).toBe('R1, R2 and R3');
  expect(together(...racks)).toBe('4 things');
});
