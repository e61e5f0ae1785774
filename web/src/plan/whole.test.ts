import { expect, it } from 'vitest';
import type { JobDocument } from '../api/document';
import { planBox, wholeBox } from './view.svelte';

const EMPTY = Object.fromEntries(
  [
    ...['areas', 'surfaces', 'buildings', 'no_go', 'walls', 'services', 'sleeves', 'neighbours'],
    ...['loudspeakers', 'racks', 'stubs', 'passages', 'joints', 'marks'],
  ].map((table) => [table, {}]),
);
const OUTLINE = [
  [0, 0],
  [30, 0],
  [30, 20],
  [0, 20],
];
const garden = (more: object) =>
  ({ ...EMPTY, site: { outline: OUTLINE }, ...more }) as unknown as JobDocument;

it.each([
  ['loudspeakers', { L5: { position: [-12, 4] } }],
  ['stubs', { T1: { position: [-12, 4] } }],
  [
    'walls',
    {
      W1: {
        line: [
          [-12, 4],
          [2, 4],
        ],
      },
    },
  ],
])('the whole site is what stands outside the property as well: %s', (table, things) => {
  const doc = garden({ [table]: things });
  expect(wholeBox(doc, null)).toEqual({ min: [-12, 0], max: [30, 20] });
  // Where nobody asks for the whole, the property is what a plan is of.
  expect(planBox(doc, null)).toEqual({ min: [0, 0], max: [30, 20] });
});
