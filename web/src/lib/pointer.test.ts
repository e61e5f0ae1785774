import { describe, expect, it } from 'vitest';
import { applied, beside, at, freeId, freeRunTag, pointer, put, takeOut } from './pointer';

describe('pointers and patches', () => {
  const job = { loudspeakers: { L1: { position: [1, 2], tap: '10 W' } }, 'a/b': { 'c~d': 1 } };

  it('escape as RFC 6901 says', () => {
    expect(pointer('a/b', 'c~d')).toBe('/a~1b/c~0d');
    expect(at(job, '/a~1b/c~0d')).toBe(1);
  });
  it('replace what is there, add what is not, and make missing tables', () => {
    expect(put(job, '/loudspeakers/L1/tap', 5)[0]!.op).toBe('replace');
    expect(put(job, '/loudspeakers/L1/line', 'A')[0]!.op).toBe('add');
    expect(put(job, '/areas/lawn/target', 70)).toEqual([
      { op: 'add', path: '/areas', value: { lawn: { target: 70 } } },
    ]);
    expect(takeOut(job, '/areas/lawn')).toEqual([]);
  });
  it('made while a table was missing leave what others put there meanwhile', () => {
    const name = put({}, '/client', { name: 'Quince' });
    const address = put({}, '/client/address', '1 Upper Lane');
    const first = applied({}, name);
    expect(applied(first, beside(first, address))).toEqual({
      client: { name: 'Quince', address: '1 Upper Lane' },
    });

    const contact = put({}, '/client/contacts/c1/name', 'Ada');
    const second = applied(first, beside(first, contact));
    expect(applied(second, beside(second, put({}, '/client/contacts/c1/telephone', '012')))).toEqual({
      client: { name: 'Quince', contacts: { c1: { name: 'Ada', telephone: '012' } } },
    });
    expect(beside(second, put({}, '/client/name', 'Medlar'))).toEqual([
      { op: 'replace', path: '/client/name', value: 'Medlar' },
    ]);
    // A list is one value, and what is put in the place of a thing takes its place.
    expect(beside({ a: [1] }, [{ op: 'add', path: '/a', value: [2] }])).toEqual([
      { op: 'add', path: '/a', value: [2] },
    ]);
    const whole = put({ a: { b: 1 } }, '/a', { c: 2 });
    expect(beside({ a: { b: 1 } }, whole)).toEqual(whole);
  });
  it('are carried out on a copy', () => {
    const after = applied(job, put(job, '/loudspeakers/L1/position', [3, 4]));
    expect(after.loudspeakers.L1.position).toEqual([3, 4]);
    expect(job.loudspeakers.L1.position).toEqual([1, 2]);
    expect(after['a/b']).toBe(job['a/b']);
  });
  it('number new things on', () => {
    expect(freeId(job.loudspeakers, 'L')).toBe('L2');
    expect(freeId(undefined, 'R')).toBe('R1');
  });
});

// The same cases as the tests of crates/model/src/document/tags.rs.
describe('tags of new runs', () => {
  it('number the runs of their line', () => {
    expect(freeRunTag({}, 'A', {})).toBe('A1');
    expect(freeRunTag({}, 'A', { A1: {}, A2: {} })).toBe('A3');
  });
  it('are of one line only', () => {
    expect(freeRunTag({}, 'A1', {})).toBe('A1-1');
    expect(freeRunTag({}, 'A11', {})).toBe('A11-1');
    expect(freeRunTag({}, 'A-', {})).toBe('A--1');
  });
  it('leave their tags to what runs end at', () => {
    expect(freeRunTag({ racks: { W1: {} } }, 'W', {})).toBe('W-1');
    expect(freeRunTag({ racks: { W1a: {} } }, 'W', {})).toBe('W1');
    expect(freeRunTag({ racks: { W1: {} }, loudspeakers: { 'W-1': {} } }, 'W', {})).toBe('W-2');
  });
  it('leave their tags to outputs and inputs', () => {
    expect(freeRunTag({ channels: { C1: {}, C2: {} } }, 'C', {})).toBe('C-1');
    expect(freeRunTag({ channels: { C1: {}, C2: {} } }, 'A', {})).toBe('A1');
    expect(freeRunTag({ channels: { 'C-1': {}, C1: {} } }, 'C', {})).toBe('C-2');
    expect(freeRunTag({ leads: { W1: {} } }, 'W', {})).toBe('W-1');
  });
  it('go on as the cable of the line that is laid', () => {
    expect(freeRunTag({ channels: { C1: {}, C2: {}, C3: {} } }, 'C', { C1: {}, C2: {} })).toBe('C4');
    expect(freeRunTag({ channels: { C1: {} } }, 'C', { 'C-1': {} })).toBe('C-2');
  });
});
