import { expect, it } from 'vitest';
import schema from '../../../docs/schema/job.schema.json';
import { fieldSpec, fieldsOf } from './schema';

/** Units as SI has them, and feet and inches by definition (0.3048 m, 0.0254 m). */
const SCALES: Record<string, number> = {
  ...{ m: 1, mm: 1e-3, ft: 0.3048, in: 0.0254, V: 1, mV: 1e-3, dB: 1, dBA: 1 },
  ...{ s: 1, ms: 1e-3, min: 60, h: 3600, Hz: 1, kHz: 1e3, W: 1, A: 1, deg: 1 },
};
/** "12 ft 6 in" in the unit of the schema; nothing of what is counted otherwise. */
function plain(example: string): number | null {
  const degrees = /^(-?\d+) ([CF])$/.exec(example);
  if (degrees) return degrees[2] === 'F' ? (Number(degrees[1]) - 32) / 1.8 : Number(degrees[1]);
  const each = [...example.matchAll(/(-?[\d.]+) (\w+)/g)].map(([, n, unit]) => Number(n) * SCALES[unit!]!);
  const sum = each.reduce((a, b) => a + b, 0);
  return each.length && Number.isFinite(sum) ? sum : null;
}

it('the example of a quantity can be typed into its field', () => {
  const looked = Object.keys(schema.$defs).flatMap((type) =>
    fieldsOf(type).flatMap((key) => {
      const { example = '', min = -Infinity, max = Infinity } = fieldSpec(type, key);
      return example.split(' or ').flatMap((one) => {
        const n = plain(one);
        return n === null ? [] : [{ at: `${type}.${key}: ${one}`, n, min, max }];
      });
    }),
  );
  expect(looked.length).toBeGreaterThan(80);
  expect(looked.filter(({ n, min, max }) => n < min || n > max).map(({ at }) => at)).toEqual([]);
});
