import { describe, expect, it } from 'vitest';
import { applied, type Patch } from '../lib/pointer';
import type { JobDocument } from '../api/document';
import { applyPuts, joins, meets, patchOf } from './document';

const visit = { id: 'V2', date: '2026-05-04', kind: 'maintenance' };
const reading = {
  path: '/readings/A-x',
  typed: { line: 'A', dc: '14.3 ohm' },
  resolved: { line: 'A', dc: 14.3 },
};
const paths = (patch: Patch) => patch.map((o) => `${o.op} ${o.path}`);

describe('the patch of an entry', () => {
  it('makes the visit and its tables where they are missing, and nothing that is there', () => {
    expect(paths(patchOf({}, { visit, puts: [reading] }))).toEqual([
      'add /visits',
      'add /visits/V2/readings',
    ]);
    const other = { visits: { V1: {} } };
    expect(paths(patchOf(other, { visit, puts: [reading] }))).toEqual([
      'add /visits/V2',
      'add /visits/V2/readings',
    ]);
    const there = { visits: { V2: { date: 'x', readings: { B: {} } } } };
    expect(paths(patchOf(there, { visit, puts: [reading] }))).toEqual(['add /visits/V2/readings/A-x']);
  });

  it('gives the same document as carrying it out here', () => {
    const document = { visits: { V1: { date: '2025-01-01' } } };
    const edit = { visit, puts: [reading] };
    const here = applyPuts({ document, resolved: { visits: {} } as unknown as JobDocument }, edit);
    expect(here.document).toEqual(applied(document, patchOf(document, edit)));
    expect(here.resolved.visits.V2).toEqual({
      date: '2026-05-04',
      kind: 'maintenance',
      ground_temperature: null,
      notes: '',
      readings: { 'A-x': { line: 'A', dc: 14.3 } },
      done: {},
      photos: {},
      lines: {},
      levels: {},
      meters: {},
    });
  });
});

describe('what an entry meets', () => {
  const at = (value: unknown) => ({
    visits: { V2: { readings: { 'A-x': value }, done: { 'L1-tap': value } } },
  });
  it('is nothing where nothing changed', () => {
    expect(meets({}, { visit, puts: [reading] }).kind).toBe('clear');
    const change = { ...reading, was: { dc: '1 ohm', line: 'A' } };
    expect(meets(at({ line: 'A', dc: '1 ohm' }), { visit, puts: [change] }).kind).toBe('clear');
  });
  it('is there already when somebody wrote the same, whatever the order of its keys', () => {
    expect(meets(at({ dc: '14.3 ohm', line: 'A' }), { visit, puts: [reading] }).kind).toBe('there');
    const tick = { path: '/done/L1-tap', typed: { work: 'tap', at: 'L1', by: 'Ada' } };
    expect(meets(at({ work: 'tap', at: 'L1', by: 'Ben' }), { visit, puts: [tick] }).kind).toBe('there');
    expect(meets(at({ work: 'tap', at: 'L2', by: 'Ben' }), { visit, puts: [tick] }).kind).toBe('conflict');
  });
  it('is a conflict when somebody wrote something else meanwhile', () => {
    const met = meets(at({ line: 'A', dc: '2 ohm' }), { visit, puts: [reading] });
    expect(met).toMatchObject({ kind: 'conflict', theirs: { line: 'A', dc: '2 ohm' } });
  });
});

describe('what is left at an amplifier', () => {
  const firmware = {
    in: 'job' as const,
    path: '/amplifiers/P1/commissioned/firmware',
    typed: '2.4',
    resolved: '2.4',
  };
  it('goes into the job and makes no visit', () => {
    const document = { amplifiers: { P1: { model: 'amp' } } };
    const resolved = { amplifiers: { P1: { model: 'amp', commissioned: null } }, visits: {} };
    const now = applyPuts({ document, resolved: resolved as never }, { visit, puts: [firmware] });
    expect(now.document).toEqual({ amplifiers: { P1: { model: 'amp', commissioned: { firmware: '2.4' } } } });
    expect(now.resolved.amplifiers.P1!.commissioned!.firmware).toBe('2.4');
    expect(now.resolved.visits).toEqual({});
  });
  it('meets what somebody else wrote there, field by field', () => {
    const theirs = (commissioned: object) => ({ amplifiers: { P1: { model: 'amp', commissioned } } });
    const edit = { visit, puts: [firmware] };
    expect(meets(theirs({ address: '10.0.0.5' }), edit).kind).toBe('clear');
    expect(meets(theirs({ firmware: '2.4' }), edit).kind).toBe('there');
    expect(meets(theirs({ firmware: '2.3' }), edit)).toMatchObject({ kind: 'conflict', theirs: '2.3' });
  });
});

// The office made V1 on the day; a phone that knew nothing of it began a visit of its own.
it('joins the visit that the office made of the day and kind, unless it was begun on purpose', () => {
  const office = { V1: { date: '2026-11-30', kind: 'building' } };
  const own = { id: 'V-20261130-abcd2345', date: '2026-11-30', kind: 'building' };
  expect(joins(office, own)).toEqual({ id: 'V1', date: '2026-11-30', kind: 'building' });
  expect(joins(office, { ...own, apart: true })).toBeNull();
  expect(joins(office, { ...own, kind: 'fault' })).toBeNull();
  expect(joins(office, { ...own, date: '2026-12-01' })).toBeNull();
  expect(joins(office, { ...own, id: 'V2' })).toBeNull();
  expect(joins({ ...office, [own.id]: office.V1 }, own)).toBeNull();
  // Another phone's visit is that phone's.
  expect(joins({ 'V-20261130-zyxw9876': office.V1 }, own)).toBeNull();
});
