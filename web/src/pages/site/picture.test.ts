import { expect, it } from 'vitest';
import { mirroredName } from './picture';

it('names a picture turned over, and back again', () => {
  for (const [name, other] of [
    ['yard.jpg', 'yard-mirrored.jpg'],
    ['survey.2.png', 'survey.2-mirrored.png'],
    ['plan', 'plan-mirrored'],
  ] as const) {
    expect(mirroredName(name)).toBe(other);
    expect(mirroredName(other)).toBe(name);
  }
});
