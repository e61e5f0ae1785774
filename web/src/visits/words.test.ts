import { expect, it } from 'vitest';
import { kindOfNext } from './words';

it('until something is handed over, whoever comes builds on; afterwards they maintain', () => {
  const visits = (...kinds: string[]) => kinds.map((kind) => ({ kind }));
  expect(kindOfNext([])).toBe('building');
  expect(kindOfNext(visits('survey', 'building'))).toBe('building');
  expect(kindOfNext(visits('building', 'handover'))).toBe('maintenance');
  expect(kindOfNext(visits('handover', 'fault'))).toBe('maintenance');
});
