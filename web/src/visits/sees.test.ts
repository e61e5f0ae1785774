import { readFileSync } from 'node:fs';
import { expect, it } from 'vitest';
import { SEES } from './sees';

it('what a meter sees is said as the engine says it', () => {
  const engine = readFileSync(`${import.meta.dirname}/../../../crates/faults/src/sees.rs`, 'utf8')
    // A line that ends in a backslash goes on in the next.
    .replace(/\\\n\s*/g, '');
  const said = Object.fromEntries(
    [...engine.matchAll(/Self::(\w+) => (?:\{\s*)?"([^"]+)"/g)].map(([, name, sentence]) => [
      name!.replace(/(?!^)[A-Z]/g, (c) => `_${c}`).toLowerCase(),
      sentence,
    ]),
  );
  expect(SEES).toEqual(said);
});
