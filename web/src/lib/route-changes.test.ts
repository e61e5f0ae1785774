import { describe, expect, it } from 'vitest';
import type { JobDocument } from '../api/document';
import type { Patch } from './pointer';
import { routeChanges } from './route-changes';

const run = { via: [], length: null, cable: null, sleeves: [], fixed: false, existing: false };
const doc = {
  joints: { J1: {}, J2: {} },
  lines: {
    A: {
      cable: 'thin',
      runs: {
        A1: { ...run, from: 'R1', to: 'J1', length: 12.4 },
        A2: { ...run, from: 'J1', to: 'L1', cable: 'thick' },
        A3: { ...run, from: 'L1', to: 'L2', length: 3 },
      },
    },
  },
} as unknown as JobDocument;
const told = (edit: Patch) => routeChanges(doc, edit, 'm');

describe('what a new route changes besides the ways', () => {
  it('is nothing where cable only lies another way', () => {
    const runs = {
      A1: { from: 'J1', to: 'R1', length: 12.4 },
      A2: { from: 'J1', to: 'L1', cable: 'thick' },
      A3: { from: 'L1', to: 'L2', length: 3, fixed: true },
    };
    expect(told([{ op: 'add', path: '/lines/A/runs', value: runs }])).toEqual([]);
    expect(told([])).toEqual([]);
  });
  it('names joints that go and that are new, lengths and cables that are lost, starts and loudspeakers that move', () => {
    const edit: Patch = [
      { op: 'add', path: '/joints/J3', value: { position: [1, 1] } },
      {
        op: 'add',
        path: '/lines/A/runs',
        value: { A1: { from: 'R1', to: 'L1' }, A2: { from: 'L1', to: 'L2' } },
      },
      { op: 'add', path: '/lines/A/start', value: 'T1' },
      { op: 'add', path: '/loudspeakers/L9/line', value: 'A' },
      { op: 'remove', path: '/joints/J1' },
      { op: 'remove', path: '/joints/J2' },
    ];
    expect(told(edit)).toEqual([
      'Joints J1 and J2 go: no cable ends at them any more.',
      'Joint J3 is new.',
      'Line A then starts at T1.',
      'Loudspeaker L9 is put on line A.',
      'The length stated for run A1, 12.4 m, goes: it is worked out from the new way.',
      'Run A2 is then of the line\'s own cable, no longer of "thick".',
      'The length stated for run A3, 3.0 m, goes: it is worked out from the new way.',
    ]);
  });
  it('does not take the table of joints for a joint', () => {
    expect(told([{ op: 'add', path: '/joints', value: {} }])).toEqual([]);
  });
});
