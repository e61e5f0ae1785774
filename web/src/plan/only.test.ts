import { describe, expect, it } from 'vitest';
import type { JobDocument, Table } from '../api/document';
import { choices, EVERYTHING, Seen, type Only } from './only';

const run = (from: string, to: string) => ({ from, to, via: [] });
const square = (x: number) => ({
  name: '',
  outline: [
    [x, 0],
    [x + 10, 0],
    [x + 10, 10],
    [x, 10],
  ],
});
/** Two racks, one in a zone that is built in phase two; three lines, one of them of another zone than its rack. */
const doc = {
  zones: { terrace: { name: 'Upper terraces', phase: 'two' }, pool: { name: 'Pool', phase: null } },
  phases: { one: { name: '' }, two: { name: '' } },
  programmes: { music: { name: 'Music' }, calls: { name: 'Calls' } },
  racks: {
    R1: { name: 'House', position: [0, 0] },
    R2: { name: 'Barn', position: [50, 0], zone: 'terrace' },
  },
  stubs: { S1: { position: [1, 0], rack: 'R1' } },
  amplifiers: { A1: { rack: 'R1' }, A2: { rack: 'R2' } },
  channels: { c1: { amplifier: 'A1', programme: 'music' }, c2: { amplifier: 'A2', programme: 'calls' } },
  areas: { lawn: { ...square(0), zone: 'pool' }, bar: { ...square(40), zone: 'terrace' } },
  joints: { J1: { position: [5, 0] } },
  loudspeakers: {
    L1: { line: 'A', position: [2, 2] },
    L2: { line: 'B', position: [42, 2] },
    L3: { line: null, position: [44, 4] },
    L4: { line: 'C', position: [3, 3] },
  },
  lines: {
    A: { channel: 'c1', start: 'S1', runs: { A1: run('S1', 'J1'), A2: run('J1', 'L1') } },
    B: { channel: 'c2', start: null, runs: { B1: run('R2', 'L2') } },
    C: {
      channel: 'c1',
      start: 'R1',
      zone: 'pool',
      phase: 'one',
      runs: { C1: run('R1', 'J1'), C2: run('J1', 'L4') },
    },
  },
  buildings: { house: {} },
} as unknown as JobDocument;

const seen = (only: Partial<Only>, table: Table) => {
  const by = new Seen(doc, { ...EVERYTHING, ...only });
  return Object.keys(doc[table]).filter((id) => by.has({ table, id }));
};

describe('a part that is looked at', () => {
  it('is everything where nothing is said', () => {
    expect(seen({}, 'loudspeakers')).toEqual(['L1', 'L2', 'L3', 'L4']);
  });
  it('has the loudspeakers of its lines, and those without a line by the area they stand in', () => {
    expect(seen({ zone: 'terrace' }, 'loudspeakers')).toEqual(['L2', 'L3']);
    expect(seen({ zone: 'pool' }, 'loudspeakers')).toEqual(['L4']);
    expect(seen({ zone: 'pool' }, 'areas')).toEqual(['lawn']);
  });
  it('takes the phase of a zone where a line says none', () => {
    expect(seen({ phase: 'two' }, 'lines')).toEqual(['B']);
    expect(seen({ phase: 'one' }, 'lines')).toEqual(['C']);
  });
  it('follows a stub to its rack, and a channel to its programme', () => {
    expect(seen({ rack: 'R1' }, 'lines')).toEqual(['A', 'C']);
    expect(seen({ rack: 'R2' }, 'racks')).toEqual(['R2']);
    expect(seen({ programme: 'calls' }, 'lines')).toEqual(['B']);
    expect(seen({ programme: 'calls', rack: 'R1' }, 'lines')).toEqual([]);
  });
  it('has a joint that a line outside of it shares, and whatever has no owner', () => {
    expect(seen({ zone: 'pool' }, 'joints')).toEqual(['J1']);
    expect(seen({ zone: 'terrace' }, 'joints')).toEqual([]);
    expect(seen({ zone: 'terrace' }, 'buildings')).toEqual(['house']);
  });
  it('is offered by name, where there is more than one to choose from', () => {
    expect(choices(doc).map(([kind, list]) => [kind, list.length])).toEqual([
      ['zone', 2],
      ['phase', 2],
      ['rack', 2],
      ['programme', 2],
    ]);
    const plain = {
      ...doc,
      zones: {},
      phases: {},
      programmes: {},
      racks: { R1: doc.racks.R1 },
    } as JobDocument;
    expect(choices(plain)).toEqual([]);
    expect(choices(doc)[0]![1][0]).toEqual(['terrace', 'Upper terraces']);
  });
});
