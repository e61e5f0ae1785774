import { readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { CUSTOMS } from './custom';
import { applied } from './pointer';
import { begun, copyName, FED, MAINS, mainsWith, PLAYED, rackBeside, rackOn, USUALLY_FED } from './start';

const schema = JSON.parse(
  readFileSync(`${import.meta.dirname}/../../../docs/schema/job.schema.json`, 'utf8'),
) as {
  $defs: Record<string, { properties: Record<string, { default?: unknown; oneOf?: { const: string }[] }> }>;
};
const field = (type: string, name: string) => schema.$defs[type]!.properties[name]!;

describe('a job from three questions', () => {
  const empty = { job: { name: 'Quince Yard' } };
  it('plays what was answered, and is fed so', () => {
    const job = applied(
      empty as Record<string, unknown>,
      begun(empty, { unit: 'm', played: 'announced', fed: '100 V' }),
    );
    expect(Object.keys(job.programmes as object)).toEqual(['music', 'speech']);
    expect(job.programmes).toMatchObject({ speech: { speech: true } });
    expect(job.brief).toEqual({ supply: '100 V' });
  });
  it('says its units, and nothing of what is usual anyway', () => {
    const job = applied(
      empty as Record<string, unknown>,
      begun(empty, { unit: 'm', played: 'background', fed: USUALLY_FED }),
    );
    expect(field('Brief', 'supply').default).toBe(USUALLY_FED);
    expect(job.brief).toBeUndefined();
    expect(job.job).toEqual({ name: 'Quince Yard', units: 'metric' });
  });
  it('counts money as the units have it', () => {
    const job = applied(
      empty as Record<string, unknown>,
      begun(empty, { unit: 'ft', played: 'background', fed: '70.7 V' }),
    );
    expect(job.job).toEqual({
      name: 'Quince Yard',
      units: 'us',
      language: 'en-us',
      currency: 'USD',
      tax: 0,
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

describe('the mains of a rack', () => {
  it('are those that were answered, else those that go with the units', () => {
    expect(rackOn('', 'ft')).toEqual(CUSTOMS.ft.rack);
    expect(rackOn('', 'm')).toEqual({});
    expect(rackOn('120 V', 'm')).toEqual({ mains: '120 V', circuit: '20 A' });
    // What is not written has to be what the schema takes it for.
    expect(field('Rack', 'mains').default).toBe(Number.parseFloat(MAINS[mainsWith('m')]!.label));
  });
});

it('a further rack is on the mains of those the job has, whatever this browser was told elsewhere', () => {
  const usa = { mains: 120, circuit: 20 };
  expect(rackBeside({ R1: usa, R2: usa }, '230 V', 'm')).toEqual({ mains: '120 V', circuit: '20 A' });
  const shared = { R1: { mains: 230, circuit: 10 } };
  expect(rackBeside(shared, '', 'ft')).toEqual({ mains: '230 V', circuit: '10 A' });
  // The first one, and where the others differ, as it was answered.
  expect(rackBeside({}, '100 V', 'm')).toEqual(MAINS['100 V']!.rack);
  expect(rackBeside({ R1: usa, R2: { mains: 230, circuit: 16 } }, '', 'ft')).toEqual(CUSTOMS.ft.rack);
});

it('a copy has a name of its own', () => {
  expect(copyName('Quince Yard', ['Quince Yard'])).toBe('Quince Yard, copy');
  expect(copyName('Quince Yard, copy', ['Quince Yard, copy'])).toBe('Quince Yard, copy 2');
  expect(copyName('Quince Yard', ['Quince Yard, copy', 'Quince Yard, copy 2'])).toBe('Quince Yard, copy 3');
});
