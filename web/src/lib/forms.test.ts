import { describe, expect, it } from 'vitest';
import type { JobDocument } from '../api/document';
import { aboutOf, formOf } from './forms';

const job = (programmes: object) =>
  ({
    programmes,
    job: { units: 'metric' },
    brief: { supply: '70.7 V' },
    racks: { R1: { name: 'Plant room' }, R2: { name: '' } },
    amplifiers: { P1: {} },
  }) as unknown as JobDocument;
const field = (table: string, name: string, doc: JobDocument) =>
  formOf(table, doc, null).find((f) => f.field === name)!;

describe('the programme of an area or a channel', () => {
  const doc = job({ p1: { name: 'House music' }, p2: { name: '' }, p3: { name: 'House music' } });

  it.each(['areas', 'channels'])('is the first there is where nobody says which: %s', (table) => {
    expect(field(table, 'programme', doc).unsaid).toBe('House music (p1)');
    // Without any there is none to name.
    expect(field(table, 'programme', job({})).unsaid).toBeUndefined();
  });

  it('is chosen by the name somebody gave it, told apart where two have one name', () => {
    expect(field('areas', 'programme', doc).options).toEqual([
      { value: 'p1', text: 'House music (p1)' },
      { value: 'p2', text: 'p2' },
      { value: 'p3', text: 'House music (p3)' },
    ]);
  });
});

it('what carries a tag is chosen by that, with its name', () => {
  expect(field('amplifiers', 'rack', job({})).options).toEqual([
    { value: 'R1', text: 'R1: Plant room' },
    { value: 'R2', text: 'R2' },
  ]);
});

it('paper and mains are those of the units, of the job and of the rack, and each field tells what holds meanwhile', () => {
  const of = (about: object) => ({ ...job({}), job: about }) as unknown as JobDocument;
  const unsaid = (about: object) =>
    ['paper', 'mains', 'circuit'].map((name) => aboutOf(of(about)).find((f) => f.field === name)!.unsaid);
  expect(unsaid({ units: null })).toEqual(['A4', '230 V', '16 A']);
  expect(unsaid({ units: 'us', mains: 100 })).toEqual(['Letter', '120 V', '20 A']);
  const rack = (about: object) => ['mains', 'circuit'].map((name) => field('racks', name, of(about)).unsaid);
  expect(rack({ units: 'us' })).toEqual(['120 V, as the job', '20 A, as the job']);
  expect(rack({ units: 'us', mains: 100, circuit: 15 })).toEqual(['100 V, as the job', '15 A, as the job']);
});

describe('zone and phase', () => {
  const doc = {
    ...job({}),
    zones: { z1: { name: 'Upper terraces', phase: null } },
    phases: { p1: { name: '', first_day: '' } },
  } as JobDocument;

  it('are asked for only where the job has any', () => {
    expect(field('areas', 'zone', job({}))).toBeUndefined();
    expect(field('lines', 'phase', job({}))).toBeUndefined();
    expect(field('areas', 'zone', doc).options).toEqual([{ value: 'z1', text: 'Upper terraces' }]);
    expect(field('lines', 'phase', doc).options).toEqual([{ value: 'p1', text: 'p1' }]);
  });

  it('an amplifier is in the zone of its rack, whatever its phase', () => {
    expect(field('amplifiers', 'zone', doc)).toBeUndefined();
    expect(field('amplifiers', 'phase', doc).unsaid).toBe('as its rack');
  });
});

it('a lead is asked for its link only where there are links', () => {
  expect(field('leads', 'link', job({}))).toBeUndefined();
  const doc = {
    ...job({}),
    links: { N1: { name: 'Fibre', from: 'R1', to: 'R2' } },
  } as unknown as JobDocument;
  expect(field('leads', 'link', doc).options).toEqual([{ value: 'N1', text: 'N1: Fibre' }]);
});
