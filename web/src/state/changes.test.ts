import { describe, expect, it } from 'vitest';
import { passing, together } from './changes';

it('what a passage is taken from is said run by run', () => {
  const at = { x: 0, y: 0 } as unknown as Parameters<typeof passing>[0][number]['through'][number]['at'];
  const runs = [
    { line: 'A', id: 'A1', through: [{ building: 'house', at, passage: 'W1' }] },
    {
      line: 'B',
      id: 'B1',
      through: [
        { building: 'house', at, passage: 'W2' },
        { building: 'shed', at },
      ],
    },
  ];
  expect(passing(runs, 'W1')).toEqual([
    'Run A1 of line A goes through it into house: it then needs a hole of its own there, or another way.',
  ]);
  expect(passing(runs, 'W3')).toEqual([]);
});

describe('several things taken out together', () => {
  const remove = (path: string) => ({ op: 'remove' as const, path });
  it('is one edit, in which nothing is taken out twice', () => {
    expect(
      together([
        [remove('/racks/R1'), remove('/stubs/T1')],
        [remove('/stubs/T1')],
        [remove('/areas/lawn')],
        [remove('/racks/R1/mains')],
      ]),
    ).toEqual([remove('/racks/R1'), remove('/stubs/T1'), remove('/areas/lawn')]);
  });
  it('is none where two change the same place, or count the items of one list', () => {
    const run = (to: string) => ({
      op: 'replace' as const,
      path: '/lines/A/runs/A2',
      value: { from: 'R1', to },
    });
    expect(together([[run('L2')], [run('L3')]])).toBeNull();
    expect(together([[remove('/lines/A/runs/A2')], [run('L3')]])).toBeNull();
    expect(
      together([[remove('/lines/A/runs/A2/sleeves/0')], [remove('/lines/A/runs/A2/sleeves/1')]]),
    ).toBeNull();
  });
});
