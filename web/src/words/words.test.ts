/** Words of phone and office: every text of the app is said through the files, and every language has it. */
import { readdirSync, readFileSync } from 'node:fs';
import { afterEach, describe, expect, it } from 'vitest';
import { FIELDS, modelSpec, TABLES as MODELS } from '../lib/catalogue-schema';
import { CUSTOMS } from '../lib/custom';
import { COMMISSIONED, NAMES } from '../lib/forms';
import { LANGUAGES } from '../lib/languages';
import { WINDS } from '../lib/looking';
import { RATES } from '../lib/price-book';
import { ROLES } from '../lib/roles';
import { fieldsOf, fieldSpec, TYPE_OF } from '../lib/schema';
import { PLAYED } from '../lib/start';
import { VERDICT_WORDS } from '../lib/verdicts';
import { METER_KINDS } from '../pages/visits/meters';
import { FORMS, JOINT, TOOLS } from '../plan/tools';
import { KEY } from '../plan/symbols';
import { SORTS } from '../visits/label';
import { SEES } from '../visits/sees';
import { TITLES } from '../state/route.svelte';
import { KEYS } from '../ui/keys';
import { LOOP } from '../visits/stub';
import { SAYS, WORDS } from '../visits/verdict';
import { TAB_TITLES } from '../visits/way.svelte';
import { KINDS, TABLES } from '../visits/words';
import schema from '../../../docs/schema/job.schema.json';
import americanEnglish from './en-us.json';
import spanish from './es.json';
import { listing, noted, say, spoken } from './spoken.svelte';

const SRC = `${import.meta.dirname}/..`;
const CRATES = `${SRC}/../../crates`;
const read = (path: string) => readFileSync(path, 'utf8');

/** Files of a folder of the app and those below it, by their path from it. */
const filesOf = (folder: string): string[] =>
  readdirSync(`${SRC}/${folder}`, { recursive: true, encoding: 'utf8' }).map((name) =>
    folder ? `${folder}/${name}` : name,
  );
/** Folders of the office, and the sentences that their pages show. */
const FOLDERS = ['pages', 'plan', 'ui'];
const SENTENCES = [
  ...filesOf('lib').filter((name) => name.endsWith('.ts') && read(`${SRC}/${name}`).includes('words/spoken')),
  'lib/looking.ts',
  'lib/verdicts.ts',
];
const OFFICE = [
  'App.svelte',
  'Shell.svelte',
  'api/client.ts',
  'state/changes.ts',
  'state/job.svelte.ts',
  ...SENTENCES,
  ...FOLDERS.flatMap(filesOf),
];
const sources = [...filesOf('visits'), ...OFFICE]
  .filter((name) => /\.(ts|svelte)$/.test(name) && !/\.(test|fixture)\./.test(name))
  .map((name) => ({ name, text: read(`${SRC}/${name}`) }));

const TEXT = `('(?:[^'\\\\\\n]|\\\\.)*'|"(?:[^"\\\\\\n]|\\\\.)*")`;
/** What is said by its English text; of a task the text comes behind the kind of work. */
const SAID = [
  new RegExp(`\\b(?:say|noted|called)\\(\\s*${TEXT}`, 'g'),
  new RegExp(`\\btask\\(\\s*'(?:joint|opened|placed|hole|tap)',\\s*${TEXT}`, 'g'),
  new RegExp(`\\.\\.\\.task\\(\\s*${TEXT}`, 'g'),
];
const unquoted = (literal: string) => literal.slice(1, -1).replace(/\\(['"])/g, '$1');
const saidIn = (text: string) =>
  SAID.flatMap((way) => [...text.matchAll(way)].map((found) => unquoted(found[1]!)));

const papers = read(`${CRATES}/papers/language/en.toml`);
const colours = [
  ...papers
    .split('[colour]')[1]!
    .split('\n[')[0]!
    .matchAll(/^(\w+) = "\1"$/gm),
].map((c) => c[1]!);
/** Labels of forms and tools, and what can be chosen there: said where they are shown. */
const labels = sources.flatMap(({ text }) =>
  [...text.matchAll(/\blabel: '([^']+)'/g)].map((found) => found[1]!),
);
type Property = Partial<Record<'oneOf' | 'items', unknown>>;
const types = schema.$defs as unknown as Record<string, { properties?: Record<string, Property> }>;
/** Languages are called as their own people call them. */
const isLanguage = (word: string) => LANGUAGES.some((l) => l.value === word);
const choices = Object.values(types)
  .flatMap(({ properties = {} }) => Object.values(properties))
  .flatMap((p) => (p.oneOf ?? (p.items as Property | undefined)?.oneOf ?? []) as { const?: string }[])
  .flatMap((o) => (o.const && /[a-z]{2,}/.test(o.const) && !isLanguage(o.const) ? [o.const] : []));
/** What the schema says below the fields of forms; of joints and stubs a form shows whatever there is. */
const everything = filesOf('')
  .filter((name) => /\.(ts|svelte)$/.test(name) && !name.includes('.test.'))
  .map((name) => read(`${SRC}/${name}`))
  .join('\n');
const shownFields = new Set([...everything.matchAll(/\bfield: '(\w+)'/g)].map((found) => found[1]!));
const shownTypes = [...everything.matchAll(/\btype="([A-Z]\w+)"/g)].map((found) => found[1]!);
const described = [...Object.values(TYPE_OF), ...shownTypes].flatMap((type) =>
  Object.keys(types[type]?.properties ?? {})
    .filter(
      (key) => shownFields.has(key) || (['Stub', 'Joint'].includes(type) && fieldsOf(type).includes(key)),
    )
    .map((key) => fieldSpec(type, key).description),
);
/** Figures of a design and steps of the work on it, as the server names them. */
const serverSays = [
  ...read(`${CRATES}/server/src/proposed.rs`).matchAll(/\badd\("([^"]+)"/g),
  ...read(`${CRATES}/propose/src/api.rs`).matchAll(/\bSelf::\w+ => "([A-Z][^"]+)"/g),
].map((found) => found[1]!);
const caution = /INSULATION_CAUTION: &str = "([^"]*)"/
  .exec(read(`${CRATES}/terms/src/insulation.rs`))![1]!
  .replace(/\\\n\s*/g, '');

/** Words of the job and the catalogue that these pages show as they stand there. */
const ofModels = Object.values(FIELDS)
  .flat()
  .map((f) => modelSpec(f.type, f.key))
  .filter((spec) => spec.kind === 'choice');
const chosen = [
  ...ofModels,
  modelSpec('Directivity', 'kind'),
  fieldSpec('About', 'status'),
  fieldSpec('Brief', 'laying'),
  fieldSpec('Brief', 'supply'),
  ...['kind', 'signal', 'connector'].map((key) => fieldSpec('Source', key)),
].flatMap((spec) => spec.options!.map((o) => o.value).filter((word) => /[a-z]{3}/.test(word)));

/** Texts that stand in lists of their own and are said from there. */
const LISTED = [
  ...[KINDS, TABLES, SEES, SAYS, WORDS, TAB_TITLES, TITLES].flatMap((list) => Object.values(list)),
  ...Object.values(NAMES).flat(),
  ...COMMISSIONED.map((f) => f.label),
  ...labels,
  ...choices,
  ...described,
  ...serverSays,
  ...WINDS,
  ...Object.values(VERDICT_WORDS),
  ...KEY.map(([, words]) => words),
  ...[...FORMS, ...TOOLS, JOINT].flatMap((t) => [t.label, t.hint, ...('short' in t ? [t.short] : [])]),
  ...KEYS.flatMap((g) => [g.title, ...g.keys.flatMap(([keys, does]) => [...keys, does])]).filter(
    (word) => word.length > 1 && !['Enter', 'Delete'].includes(word),
  ),
  'Starting',
  'Price with tax',
  ...SORTS,
  ...colours.filter((c) => c !== 'gray'),
  ...RATES.map((r) => r.label),
  ...Object.values(MODELS).flatMap(({ one, many }) => [one, many]),
  ...Object.values(FIELDS).flatMap((fields) => fields.map((f) => f.label)),
  ...chosen,
  // How cable is laid besides, and what of an amplifier runs out first.
  ...['shared trench', 'not possible', 'voltage', 'current', 'power'],
  ...Object.values(METER_KINDS),
  ...Object.values(ROLES).flatMap(({ name, may }) => [name, may]),
  ...Object.values(CUSTOMS).flatMap(({ label, about }) => [label, about]),
  ...Object.values(PLAYED).map((p) => p.label),
  // What mends a finding; what is made of a new phase and zone.
  'Set the processing',
  'Route again',
  'Mend it',
  'Phase',
  'Zone',
  LOOP,
  caution,
].filter(Boolean);
const all = new Set([
  ...sources.flatMap(({ text }) => saidIn(text)),
  ...saidIn(read(`${SRC}/words/spoken.svelte.ts`)),
  ...LISTED,
]);
const names = (text: string) => [...new Set(text.match(/\{\w+\}/g))].sort();

afterEach(() => spoken.speaks(null));

describe('words of the phone', () => {
  it('are all there in Spanish, and no others', () => {
    expect(all.size).toBeGreaterThan(300);
    const own = Object.keys(spanish);
    expect([...all].filter((text) => !own.includes(text))).toEqual([]);
    expect(own.filter((text) => !all.has(text))).toEqual([]);
  });

  it('are changed in American English only where there is such a text', () => {
    expect(Object.keys(americanEnglish).filter((text) => !all.has(text))).toEqual([]);
    expect(Object.entries(americanEnglish).filter(([ours, theirs]) => ours === theirs)).toEqual([]);
  });

  it('keep every value in braces', () => {
    for (const words of [spanish, americanEnglish])
      for (const [english, own] of Object.entries(words)) expect(names(own), english).toEqual(names(english));
  });

  it('are said in the language of the crew', async () => {
    expect(say('Line {line}', { line: 'A' })).toBe('Line A');
    await spoken.speaks('es');
    expect(say('Line {line}', { line: 'A' })).toBe('Línea A');
    expect(listing(['A', 'B', 'C'])).toBe('A, B y C');
    // The log of the job stays in the office's English.
    expect(noted('Reading of line {line}', { line: 'A' })).toEqual({
      note: 'Reading of line A',
      said: 'Lectura de la línea A',
    });
    await spoken.speaks('latin');
    expect(say('Line {line}', { line: 'A' })).toBe('Line A');
    expect(LANGUAGES.map((l) => l.value)).toEqual(['en', 'en-us', 'es']);
  });
});

/** What of a component's markup is text: neither tag nor expression. */
function bare(markup: string): string {
  let depth = 0;
  let out = '';
  let quote = '';
  for (let i = 0; i < markup.length; i++) {
    const c = markup[i]!;
    if (depth > 0) {
      if (quote) {
        if (c === '\\') i++;
        else if (c === quote) quote = '';
      } else if (`'"\``.includes(c)) quote = c;
      else if (c === '{') depth++;
      else if (c === '}') depth--;
    } else if (c === '{') depth = 1;
    else out += c;
  }
  return out;
}

const markupOf = (text: string) =>
  text
    .replace(/<script[^]*?<\/script>/g, '')
    .replace(/<style[^]*?<\/style>/g, '')
    .replace(/<!--[^]*?-->/g, '');
const READ_ALOUD = /\b(?:aria-label|alt|title|placeholder|label|of)="([^"]*[A-Za-z]{2}[^"]*)"/g;
/** What is the same in every language: the program's name and command, units, a kind of checksum, an example of a reading. */
const SAME = /loamline serve --share|loamline|1\.9 ohm|SHA-256|\b(?:W|deg)\b/g;

describe("the phone's pages", () => {
  it('have no word of their own in their markup', () => {
    for (const { name, text } of sources.filter((s) => s.name.endsWith('.svelte'))) {
      const flat = bare(markupOf(text));
      const words = flat.replace(/<[^>]*>/g, ' ').replace(SAME, '');
      expect(words.match(/[A-Za-z]{2,}/g), name).toBeNull();
      const aloud = [...flat.matchAll(READ_ALOUD)].map((found) => found[1]!.replace(SAME, ''));
      expect(
        aloud.filter((r) => /[A-Za-z]{2}/.test(r)),
        name,
      ).toEqual([]);
    }
  });

  it('have no sentence in their code that is not said through the files', () => {
    const states = [
      'in reach',
      'out of reach',
      'not paired',
      'all sent',
      'other version',
      'reading to ranking',
    ];
    // Quantities of the schema, events of a library, and how the figures of a file are meant.
    states.push('signal voltage', 'air pressure', 'conductor cross-section', 'end interrupt cancel');
    states.push('metres from the datum, x east, y north');
    for (const { name, text } of sources) {
      const code = text
        .replace(/<style[^]*?<\/style>/g, '')
        .replace(/\/\*[^]*?\*\//g, '')
        .replace(/^\s*\/\/.*$/gm, '')
        .replace(/<[a-z][^>]*>/g, ' ');
      const literals = [...code.matchAll(new RegExp(TEXT, 'g'))].map((found) => unquoted(found[0]));
      const strange = literals.filter(
        (l) => /[a-z]{2,} [a-z]{2,}/i.test(l) && !all.has(l) && !states.includes(l) && !/^[MZ\d]/.test(l),
      );
      // What the job keeps is in English: a pair that was found.
      const kept = (l: string) =>
        name === 'visits/stub.ts' && (l.endsWith('found at both ends') || l === 'Loop of');
      expect(
        strange.filter((l) => !kept(l)),
        name,
      ).toEqual([]);
    }
  });
});

/** What the server says is shown by what picks the language: never as it stands in an answer. */
it('show no sentence of an answer as it is', () => {
  // What a person wrote, and what is in the language of its reader already.
  const own = ['job.summary', 'o.reason', 'shown.reason', 'soFar.sentence', 'wanted.sentence', 'e.sentence'];
  own.push('likeliest.sentence');
  const bareOnes = sources
    .filter(({ name }) => name.endsWith('.svelte'))
    .flatMap(({ name, text }) =>
      [...markupOf(text).matchAll(/\{([\w.]+\.(?:sentence|summary|reason|message|no_passkey|next))\}/g)]
        .map((found) => found[1]!)
        .filter((shown) => !own.includes(shown))
        .map((shown) => `${name}: ${shown}`),
    );
  expect(bareOnes).toEqual([]);
});

it('leave out no page of the app', () => {
  const done = new Set(sources.map((s) => s.name));
  expect(filesOf('').filter((name) => name.endsWith('.svelte') && !done.has(name))).toEqual([]);
});
