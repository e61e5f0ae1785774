import { readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { CUSTOMS, customOf } from './custom';
import { applied } from './pointer';
import { begun, copyName, FED, MAINS, PLAYED, rackBeside, SHEETS, USUALLY_FED } from './start';

interface Property {
  default?: unknown;
  description?: string;
  oneOf?: { const: string }[];
}
const schema = JSON.parse(
  readFileSync(`${import.meta.dirname}/../../../docs/schema/job.schema.json`, 'utf8'),
) as {
  $defs: Record<string, { properties: Record<string, Property> }>;
};
const field = (type: string, name: string) => schema.$defs[type]!.properties[name]!;

describe('a job from three questions', () => {
  const empty = { job: { name: 'Quince Yard' } };
  const [europe, usa] = [
    { unit: 'm', mains: '230 V', paper: 'A4' },
    { unit: 'ft', mains: '120 V', paper: 'Letter' },
  ] as const;
  it('plays what was answered, and is fed so', () => {
    const job = applied(
      empty as Record<string, unknown>,
      begun(empty, { ...europe, played: 'announced', fed: '100 V' }),
    );
    expect(Object.keys(job.programmes as object)).toEqual(['music', 'speech']);
    expect(job.programmes).toMatchObject({ speech: { speech: true } });
    expect(job.brief).toEqual({ supply: '100 V' });
  });
  it('says where it is built, and nothing of what is usual anyway', () => {
    const job = applied(
      empty as Record<string, unknown>,
      begun(empty, { ...europe, played: 'background', fed: USUALLY_FED }),
    );
    expect(field('Brief', 'supply').default).toBe(USUALLY_FED);
    expect(job.brief).toBeUndefined();
    const place = { mains: '230 V', circuit: '16 A', paper: 'A4' };
    expect(job.job).toEqual({ name: 'Quince Yard', units: 'metric', ...place });
  });
  it('counts money as the units have it', () => {
    const job = applied(
      empty as Record<string, unknown>,
      begun(empty, { ...usa, played: 'background', fed: '70.7 V' }),
    );
    expect(job.job).toEqual({
      name: 'Quince Yard',
      units: 'us',
      language: 'en-us',
      currency: 'USD',
      tax: 0,
      mains: '120 V',
      circuit: '20 A',
      paper: 'Letter',
    });
  });
  it('offers what the schema knows', () => {
    expect(FED).toEqual(field('Brief', 'supply').oneOf!.map((o) => o.const));
    const known = Object.keys(schema.$defs.Programme!.properties);
    const spectra = field('Programme', 'spectrum').oneOf!.map((o) => o.const);
    for (const { programmes } of Object.values(PLAYED))
      for (const programme of Object.values(programmes)) {
        expect(spectra).toContain(programme.spectrum);
        for (const key of Object.keys(programme)) expect(known).toContain(key);
      }
  });
});

describe('where a job is built', () => {
  it('is what the schema says of a job that is silent', () => {
    const said = (name: string) => field('About', name).description!;
    for (const key of ['mains', 'circuit', 'paper'] as const) {
      const usual = `${CUSTOMS.m[key]}, in US units ${CUSTOMS.ft[key]}.`;
      expect(said(key).replace(/\s+/g, ' ')).toContain(`Where it is absent ${usual}`);
    }
    expect([customOf(null), customOf('metric'), customOf('us')]).toEqual([CUSTOMS.m, CUSTOMS.m, CUSTOMS.ft]);
  });
  it('is asked with what can be answered', () => {
    expect(SHEETS).toEqual(['A4', 'A3', 'Letter', 'Tabloid']);
    for (const { mains, circuit, paper } of Object.values(CUSTOMS)) {
      expect(MAINS[mains]).toEqual({ label: `${mains}, ${circuit}`, circuit });
      expect(SHEETS).toContain(paper);
    }
  });
});

it('a further rack says of its mains what all the others say of theirs, and else leaves it to the job', () => {
  const usa = { mains: 120, circuit: 20 };
  expect(rackBeside({ R1: usa, R2: usa })).toEqual({ mains: '120 V', circuit: '20 A' });
  expect(rackBeside({ R1: { mains: 230, circuit: null } })).toEqual({ mains: '230 V' });
  // The first one, beside one that says nothing, and where the others differ.
  expect(rackBeside({})).toEqual({});
  expect(rackBeside({ R1: { mains: null, circuit: null } })).toEqual({});
  expect(rackBeside({ R1: usa, R2: { mains: 230, circuit: 16 } })).toEqual({});
});

it('a copy has a name of its own', () => {
  expect(copyName('Quince Yard', ['Quince Yard'])).toBe('Quince Yard, copy');
  expect(copyName('Quince Yard, copy', ['Quince Yard, copy'])).toBe('Quince Yard, copy 2');
  expect(copyName('Quince Yard', ['Quince Yard, copy', 'Quince Yard, copy 2'])).toBe('Quince Yard, copy 3');
});
