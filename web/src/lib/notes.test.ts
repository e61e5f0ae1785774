import { afterEach, expect, it } from 'vitest';
import { spoken } from '../words/spoken.svelte';
import { noteTold } from './notes';

afterEach(() => spoken.speaks(null));

it('the log is read in the language of whoever reads it', async () => {
  expect(noteTold('Change status of the job')).toBe('Change status of the job');
  await spoken.speaks('es');
  expect(noteTold('Change status of the job')).toBe('Cambiar estado de la obra');
  expect(noteTold('Move L3')).toBe('Mover L3');
  expect(noteTold('Take out L3')).toBe('Quitar L3');
  // What a person wrote is theirs.
  expect(noteTold('As agreed on the phone')).toBe('As agreed on the phone');
});
