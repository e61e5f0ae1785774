import { expect, it } from 'vitest';
import schema from '../../../docs/schema/job.schema.json';
import { fieldSpec, fieldsOf } from './schema';

it('the example of a quantity can be typed into its field', () => {
  const named = (schema as { $defs: object }).$defs;
  const looked = Object.keys(named).flatMap((type) =>
    fieldsOf(type).flatMap((key) => {
      const { quantity, example, min = -Infinity, max = Infinity } = fieldSpec(type, key);
      if (!example || !['level', 'voltage'].includes(quantity ?? '')) return [];
      return example.split(' or ').map((e) => ({ at: `${type}.${key}: ${e}`, n: parseFloat(e), min, max }));
    }),
  );
  expect(looked.length).toBeGreaterThan(15);
  expect(looked.filter(({ n, min, max }) => n < min || n > max).map(({ at }) => at)).toEqual([]);
});
