import { readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { CUSTOMS, shownIn } from './custom';

const read = (path: string) => readFileSync(`${import.meta.dirname}/../../../crates/${path}`, 'utf8');
const starter = read('cli/src/commands/new.rs');
const usual = read('model/src/document/custom.rs');

describe('what a new job begins with', () => {
  it('is what `loamline new` gives', () => {
    // The command's own words: currency and tax of each system of units, mains and sheet of a job that says none.
    for (const [word, custom] of Object.entries({ Metric: CUSTOMS.m, Us: CUSTOMS.ft })) {
      const [, currency, tax] = new RegExp(`Units::${word} => \\("(\\w+)", (\\S+)\\),`).exec(starter)!;
      expect(custom.about).toMatch(`in ${currency} `);
      const set = (path: string) => custom.patch.find((o) => o.path === path);
      expect(set('/job/units')).toMatchObject({ value: word.toLowerCase() });
      expect(set('/job/tax') !== undefined).toBe(tax !== 'None');
      if (word === 'Us') expect(set('/job/currency')).toMatchObject({ value: currency });
      const mains = new RegExp(
        `Units::${word} => Self \\{ voltage_v: (\\d+)\\.0, circuit_a: (\\d+)\\.0 \\}`,
      ).exec(usual)!;
      expect([custom.mains, custom.circuit]).toEqual([`${mains[1]} V`, `${mains[2]} A`]);
      expect(custom.paper).toBe(new RegExp(`Units::${word} => Self::(\\w+),`).exec(usual)![1]);
    }
  });

  it('says in which lengths an import is shown', () => {
    expect(shownIn('ft')).toMatch('shown in feet and inches');
    expect(shownIn('m')).toMatch('shown in metres');
  });
});
