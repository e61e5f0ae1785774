import { describe, expect, it } from 'vitest';
import { supplyOf } from './supply';

const doc = {
  brief: { supply: '70.7 V' },
  programmes: { music: { supply: null }, talk: { supply: 'low impedance' } },
  channels: { C1: { programme: null }, C2: { programme: 'talk' } },
  lines: {
    A: { supply: null, channel: 'C1' },
    B: { supply: null, channel: 'C2' },
    C: { supply: '100 V', channel: 'C2' },
    D: { supply: null, channel: null },
  },
};

describe('how loudspeakers are fed', () => {
  it('is what the line says, else its programme, else the brief', () => {
    expect(['A', 'B', 'C', 'D', null].map((line) => supplyOf(doc, line))).toEqual([
      '70.7 V',
      'low impedance',
      '100 V',
      '70.7 V',
      '70.7 V',
    ]);
  });
});
