import { readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { CUSTOMS, shownIn } from './custom';
import { MAINS, mainsWith } from './start';

const starter = readFileSync(`${import.meta.dirname}/../../../crates/cli/src/commands/new.rs`, 'utf8');

describe('what a new job begins with', () => {
  it('is what `loamline new` gives', () => {
    // The command's own words: currency, mains and circuit of each system of units.
    const usual = [
      ...starter.matchAll(
        /Units::(Metric|Us) => (?:\{\s*)?Self \{ units, currency: "(\w+)"\.into\(\), tax: (\S+), mains_v: (\d+)\.0, circuit_a: (\d+)\.0 \}/g,
      ),
    ].map(([, units, currency, tax, mains, circuit]) => ({ units, currency, tax, mains, circuit }));
    expect(usual.map((u) => u.units)).toEqual(['Metric', 'Us']);
    for (const { units, currency, tax, mains, circuit } of usual) {
      const custom = CUSTOMS[units === 'Us' ? 'ft' : 'm'];
      expect(custom.about).toMatch(`in ${currency} `);
      const unit = units === 'Us' ? 'ft' : 'm';
      expect(MAINS[mainsWith(unit)]!.label).toBe(`${mains} V, ${circuit} A`);
      const set = (path: string) => custom.patch.find((o) => o.path === path);
      expect(set('/job/units')).toMatchObject({ value: units!.toLowerCase() });
      expect(set('/job/tax') !== undefined).toBe(tax !== 'None');
      if (units === 'Us') {
        expect(set('/job/currency')).toMatchObject({ value: currency });
        expect(custom.rack).toEqual({ mains: `${mains} V`, circuit: `${circuit} A` });
      }
    }
  });

  it('says in which lengths an import is shown', () => {
    expect(shownIn('ft')).toMatch('shown in feet and inches');
    expect(shownIn('m')).toMatch('shown in metres');
  });
});
