import { describe, expect, it } from 'vitest';
import type { JobDocument } from '../api/document';
import { placeOf, readLabel } from './label';

/** Line C has a run with the tag of a channel; lines A and B share a cable. */
const doc = {
  loudspeakers: { L1: {} },
  joints: { J1: {} },
  stubs: { T1: {} },
  channels: { C1: {}, C4: {} },
  leads: { W1: {} },
  lines: {
    A: { channel: 'C1', runs: { A1: {} } },
    B: { channel: null, runs: { B1: {} } },
    C: { channel: null, runs: { C1: {} } },
  },
} as unknown as JobDocument;

describe('the code on a label', () => {
  it('is read whole or not at all', () => {
    const label = { job: 'JC/26', sort: 'cable', tag: 'A1+B1' };
    expect(readLabel('#tag/JC%2F26/cable/A1%2BB1')).toEqual(label);
    for (const other of [
      '',
      '#along/x/work',
      '#tag/x',
      '#tag/x/cable',
      '#tag/x/lamp/L1',
      '#tag/%E0%A4/cable/A1',
      '#tag/x/joint/J1/y',
    ])
      expect(readLabel(other), other).toBeNull();
  });

  it('opens the thing it hangs on', () => {
    const place = (sort: 'cable' | 'joint' | 'stub' | 'loudspeaker' | 'output' | 'input', tag: string) =>
      placeOf(doc, { sort, tag });
    expect(place('loudspeaker', 'L1')).toEqual({ tab: 'work', thing: 'L1' });
    expect(place('joint', 'J1')).toEqual({ tab: 'work', thing: 'J1' });
    expect(place('stub', 'T1')).toEqual({ tab: 'work', thing: 'T1' });
    expect(place('cable', 'A1+B1')).toEqual({ tab: 'measure', thing: 'A' });
    expect(place('cable', 'C1')).toEqual({ tab: 'measure', thing: 'C' });
    expect(place('output', 'C1')).toEqual({ tab: 'measure', thing: 'A' });
    expect(place('output', 'C4')).toEqual({ tab: 'work' });
    expect(place('input', 'W1')).toEqual({ tab: 'work' });
    expect(place('loudspeaker', 'J1')).toBeNull();
    expect(place('cable', 'Z9')).toBeNull();
  });
});
