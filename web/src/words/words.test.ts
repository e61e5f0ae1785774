/** Words of the phone and of what is done of the office: every text in these pages is said through the files, and every language has it. */
import { readdirSync, readFileSync } from 'node:fs';
import { afterEach, describe, expect, it } from 'vitest';
import { FIELDS, modelSpec, TABLES as MODELS } from '../lib/catalogue-schema';
import { CUSTOMS } from '../lib/custom';
import { COMMISSIONED, NAMES } from '../lib/forms';
import { LANGUAGES } from '../lib/languages';
import { RATES } from '../lib/price-book';
import { ROLES } from '../lib/roles';
import { fieldSpec } from '../lib/schema';
import { PLAYED } from '../lib/start';
import { METER_KINDS } from '../pages/visits/meters';
import { SORTS } from '../visits/label';
import { SEES } from '../visits/sees';
import { TITLES } from '../state/route.svelte';
import { LOOP } from '../visits/stub';
import { SAYS, WORDS } from '../visits/verdict';
import { TAB_TITLES } from '../visits/way.svelte';
import { KINDS, TABLES } from '../visits/words';
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
/** What is outside the phone's folder and shown there, and what is done of the office. */
const SHARED = ['ui/Dialog.svelte', 'ui/Preferences.svelte', 'ui/Why.svelte'];
/** Parts of every page that are done before the folder they stand in. */
const PARTS = ['Commands', 'Empty', 'Figure', 'Findings', 'Messages', 'OtherVersion', 'QuestionDialog'];
/** Pages that are done, and the folders of their parts. */
const PAGES = ['Brief', 'Cable', 'Equipment', 'Firm', 'Jobs', 'Pair', 'Papers', 'Processing', 'Visits'];
const PARTS_OF = ['brief', 'cable', 'equipment', 'firm', 'jobs', 'papers', 'processing', 'visits'];
/** Sentences of these pages that stand beside them. */
const BESIDE = ['cable-name', 'own-model', 'people', 'roles', 'route-changes', 'sources', 'starts', 'waiting', 'why-cable'];
const OFFICE = [
  'App.svelte',
  'Shell.svelte',
  ...BESIDE.map((name) => `lib/${name}.ts`),
  ...PARTS.map((name) => `ui/${name}.svelte`),
  ...PAGES.map((name) => `pages/${name}.svelte`),
  ...PARTS_OF.flatMap((p) => filesOf(`pages/${p}`)),
];
const sources = [...filesOf('visits'), ...SHARED, ...OFFICE]
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
const colours = [...papers.split('[colour]')[1]!.split('\n[')[0]!.matchAll(/^(\w+) = "\1"$/gm)].map((c) => c[1]!);
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
  // As the middle of a sentence names things; their headings are the pages' own.
  ...Object.values(NAMES).map(([one]) => one),
  ...COMMISSIONED.map((f) => f.label),
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
      expect(aloud.filter((r) => /[A-Za-z]{2}/.test(r)), name).toEqual([]);
    }
  });

  it('have no sentence in their code that is not said through the files', () => {
    const states = ['in reach', 'out of reach', 'not paired', 'all sent', 'other version', 'reading to ranking'];
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
      expect(strange.filter((l) => !kept(l)), name).toEqual([]);
    }
  });
});

/** Folders whose pages are still in English alone; a page goes out of the list as a whole, with its folder. */
const TO_DO = [
  'pages',
  'pages/site',
  'pages/sound',
  'plan',
  'ui',
];

it('pages still to do are listed, and none is half done', () => {
  const done = new Set(sources.map((s) => s.name));
  const others = filesOf('').filter((name) => name.endsWith('.svelte') && !done.has(name));
  const folders = new Set(others.map((name) => name.split('/').slice(0, -1).join('/')));
  expect([...folders].sort()).toEqual(TO_DO);
  expect(others.filter((name) => read(`${SRC}/${name}`).includes('words/spoken'))).toEqual([]);
});
