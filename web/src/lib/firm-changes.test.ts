import { expect, it } from 'vitest';
import type { FirmText } from '../api/shapes';
import { replaced } from './firm-changes';

const shown = { name: 'Example Gardens', closing: '', lines: ['1 Lane', '01 23'] };

it('what somebody set meanwhile and this change replaces is told, whatever it is', () => {
  const over = (now: Partial<FirmText>, part: Partial<FirmText>) =>
    replaced(shown, { ...shown, ...now }, part);
  expect(over({ name: 'Example Terraces' }, { name: 'Our Gardens' })).toBe(
    'What was typed here replaced "Example Terraces", set meanwhile.',
  );
  expect(over({ lines: ['2 Lane'] }, { lines: ['3 Lane'] })).toMatch('"2 Lane"');
  expect(over({ lines: [] }, { lines: ['3 Lane'] })).toMatch('"nothing"');
});

it('nothing is told of what stays, of what this window showed, and of the same typed twice', () => {
  expect(replaced(shown, { ...shown, closing: 'Until soon' }, { name: 'Our Gardens' })).toBeNull();
  expect(replaced(shown, shown, { name: 'Our Gardens' })).toBeNull();
  expect(replaced(shown, { ...shown, lines: ['2 Lane'] }, { lines: ['2 Lane'] })).toBeNull();
});
