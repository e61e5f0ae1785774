import { expect, it } from 'vitest';
import { cableName } from './cable-name';

// Cross-sections of gauges as handbooks print them (ASTM B258): 14 AWG 2.08 mm2, 18 AWG 0.823 mm2.
const cables = {
  thick: {
    description: 'Two conductors, 14 AWG',
    conductor: 2.081,
    conductors: 2,
    ratings: ['burial', 'conduit'],
  },
  thin: { description: 'Four conductors, 18 AWG', conductor: 0.823, conductors: 4, ratings: ['conduit'] },
  metric: { description: 'Two conductors, 2.5 mm²', conductor: 2.5, conductors: 2, ratings: ['burial'] },
};

it('is gauge and conductors to a reader of feet, else what the catalogue says', () => {
  const named = (unit: 'm' | 'ft') => Object.keys(cables).map((id) => cableName({ cables }, id, unit));
  expect(named('ft')).toEqual(['14/2 direct burial', '18/4 for conduit', 'Two conductors, 2.5 mm²']);
  expect(named('m')).toEqual(Object.values(cables).map((c) => c.description));
  expect(cableName(null, 'thick', 'ft')).toBe('thick');
});
