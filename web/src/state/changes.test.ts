import { expect, it } from 'vitest';
import { passing } from './changes';

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
