import { readFileSync } from 'node:fs';
import { expect, it } from 'vitest';
import { USUAL, withUsual } from './usual-ground';

const engine = readFileSync(`${import.meta.dirname}/../../../crates/model/src/document/site.rs`, 'utf8');
const words = readFileSync(`${import.meta.dirname}/../../../crates/terms/src/cable.rs`, 'utf8');

/** The arms of a function of the kind, by kind: `Self::Bed | Self::Soil => FlowClass::D`. */
function arms(name: string): Record<string, string> {
  const ground = engine.slice(engine.indexOf('impl SurfaceKind {'));
  const body = ground.slice(ground.indexOf(`fn ${name}(self)`)).split('\n    }\n')[0]!;
  const found = [...body.matchAll(/((?:Self::\w+(?: \| )?)+) => (?:Some\()?(?:\w+::)?(\w+)/g)];
  return Object.fromEntries(
    found.flatMap(([, kinds, value]) =>
      [...kinds!.matchAll(/Self::(\w+)/g)].map(([, kind]) => [kind!.toLowerCase(), value!]),
    ),
  );
}

it('is what the program takes as usual', () => {
  const [flow, laying] = [arms('flow_class'), arms('laying')];
  expect(Object.keys(flow).sort()).toEqual(Object.keys(USUAL).sort());
  const word = (variant: string) =>
    variant === 'None' ? null : new RegExp(`\\b${variant} = "([^"]+)"`).exec(words)![1]!;
  const takes = /fn takes_loudspeakers\(self\)[^}]*matches!\(self, ([^)]*)\)/.exec(engine)![1]!;
  for (const [kind, usual] of Object.entries(USUAL)) {
    expect(usual.flow_class, kind).toBe(flow[kind]);
    expect(usual.laying, kind).toBe(word(laying[kind]!));
    expect(usual.loudspeakers, kind).toBe(takes.toLowerCase().includes(`self::${kind}`));
  }
});

it('says what holds on a bed while nothing is said', () => {
  const of = (field: string, kind: string) => withUsual({ field, label: '' }, kind);
  expect(of('loudspeakers', 'bed')).toMatchObject({ holds: true, usually: 'as usual for a bed' });
  expect(of('loudspeakers', 'lawn')).toMatchObject({ holds: false, usually: 'as usual for a lawn' });
  expect(of('laying', 'bed').unsaid).toBe('staked');
  expect(of('laying', 'water').unsaid).toBe('none');
  expect(of('elevation', 'bed').usually).toBeUndefined();
});
