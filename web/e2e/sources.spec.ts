/** Where music comes from: sources, their leads, the inputs a channel adds, the gain that follows, and how an amplifier was left. */
import type { Page } from 'playwright-core';
import { afterAll, afterEach, beforeAll, describe, expect, it } from 'vitest';
import { Keys } from './keys';
import { serious, tooLow, tooSmall, tooWide } from './looks';
import { settled, World } from './world';

const world = new World();
beforeAll(() => world.start());
afterEach(() => world.leave());
afterAll(() => world.stop());

interface Document {
  sources?: Record<string, Record<string, unknown>>;
  leads?: Record<string, Record<string, unknown>>;
  channels: Record<string, { inputs?: number[] }>;
  amplifiers: Record<string, { commissioned?: Record<string, string> }>;
}
const documentOf = async (job: string) => (await world.read<{ document: Document }>(`/jobs/${job}`)).document;
const undo = (page: Page, what: string) => page.getByRole('button', { name: `Undo: ${what}` });
const region = (page: Page, name: string) => page.getByRole('region', { name, exact: true });

const summary = (page: Page, text: RegExp) => page.locator('summary').filter({ hasText: text });

/** A café with a four-channel amplifier A1 and nothing said of what plays. */
const cafe = () => world.example('walled-courtyard');

async function addStereo(page: Page) {
  const sources = region(page, 'Sources');
  await sources.getByRole('button', { name: 'Source', exact: true }).click();
  await sources.getByLabel('Kind').waitFor();
  for (const lead of ['K1', 'K2']) {
    await sources.getByRole('button', { name: 'Lead of Q1' }).click();
    await region(page, `Lead ${lead}`).waitFor();
  }
  return sources;
}

describe('sources', () => {
  it('are added with a lead for each side, changed, added up by channels, and taken out with their leads', async () => {
    const job = await cafe();
    const page = await world.person('Ada');
    await world.open(page, job, 'cable');
    await settled(page);
    const sources = await addStereo(page);
    const made = await documentOf(job);
    expect(made.sources!.Q1).toMatchObject({
      kind: 'player',
      rack: 'bar',
      signal: 'stereo',
      output: 'unbalanced',
    });
    // A side each, to inputs of their own: two outputs are never joined.
    expect(made.leads).toEqual({
      K1: { source: 'Q1', side: 'left', amplifier: 'A1', input: 1 },
      K2: { source: 'Q1', side: 'right', amplifier: 'A1', input: 2 },
    });
    const name = sources.getByLabel('Name', { exact: true });
    await name.fill('Tablet behind the bar');
    await name.press('Enter');
    await undo(page, 'Change name of Q1').waitFor();
    // -10 dBV is 0.316 V by definition: what is typed is kept as typed.
    const level = sources.getByLabel('Usual level');
    await level.fill('-10 dBV');
    await level.press('Enter');
    await undo(page, 'Change usual level of Q1').waitFor();
    // A balanced output has no phono connector: both change in one step.
    await sources.getByLabel('Output').selectOption('balanced');
    await undo(page, 'Change output of Q1').waitFor();
    expect((await documentOf(job)).sources!.Q1).toMatchObject({
      name: 'Tablet behind the bar',
      nominal: '-10 dBV',
      output: 'balanced',
      connector: 'XLR',
    });
    const long = region(page, 'Lead K1').getByLabel('Length', { exact: true });
    await long.fill('5 ft');
    await long.press('Enter');
    await undo(page, 'Change length of K1').waitFor();
    // An input that is taken is not offered again.
    const inputs = region(page, 'Lead K2').getByLabel('Input');
    const offered = await inputs.locator('option').allInnerTexts();
    expect(offered.map((text) => text[0])).toEqual(['2', '3', '4', '5']);
    await inputs.selectOption('4');
    await undo(page, 'Change input of K2').waitFor();
    expect((await documentOf(job)).leads!.K2!.input).toBe(4);

    // The channel adds both.
    await summary(page, /^Channel west/).click();
    const adds = page.getByRole('group', { name: 'Adds the inputs of A1' }).first();
    await adds.getByRole('checkbox', { name: 'Input 1: left of Q1, Tablet behind the bar' }).check();
    await adds.getByRole('checkbox', { name: /^Input 4: right of Q1/ }).check();
    await expect.poll(async () => (await documentOf(job)).channels.west!.inputs).toEqual([1, 4]);
    await region(page, 'Lead K1').getByText('Input 1 of A1 is added by channel west.').waitFor();
    await expect.poll(() => adds.getByRole('checkbox', { checked: true }).count()).toBe(2);

    await region(page, 'Lead K2').getByRole('button', { name: 'Take out K2' }).click();
    await page.getByText('Took out K2.').waitFor();
    await sources.getByRole('button', { name: 'Take out Q1' }).click();
    const asked = page.getByRole('dialog', { name: /Take out source Q1/ });
    await asked.getByText('lead K1').waitFor();
    await asked.getByRole('button', { name: 'Take all of it out' }).click();
    await page.getByText('Took out Q1.').waitFor();
    const gone = await documentOf(job);
    expect([gone.sources ?? {}, gone.leads ?? {}]).toEqual([{}, {}]);
    expect(world.complaints).toEqual([]);
  });

  it('of light bring both sides through one lead, to an optical input or a sentence', async () => {
    const job = await cafe();
    const page = await world.person('Ada');
    await world.open(page, job, 'cable');
    await settled(page);
    const sources = await addStereo(page);
    await sources.getByLabel('Output').selectOption('optical');
    await undo(page, 'Change output of Q1').waitFor();
    const { sources: all, leads } = await documentOf(job);
    expect(all!.Q1!.connector).toBe('optical');
    expect(Object.values(leads!).map((l) => l.side)).toEqual([undefined, undefined]);
    expect(await sources.getByLabel('Usual level').count()).toBe(0);
    // The next lead is a light guide: to the optical input, counted on after the four others. There is no second.
    await sources.getByRole('button', { name: 'Lead of Q1' }).click();
    await undo(page, 'Add lead K3').waitFor();
    expect((await documentOf(job)).leads!.K3).toEqual({ source: 'Q1', amplifier: 'A1', input: 5 });
    await sources.getByRole('button', { name: 'Lead of Q1' }).click();
    await page
      .getByRole('alert')
      .filter({ hasText: 'No amplifier has an optical input that is free' })
      .waitFor();
    expect(world.complaints).toEqual([]);
  });

  it('give the gain to set on the Processing page, with its working', async () => {
    const job = await cafe();
    const page = await world.person('Ada');
    await world.open(page, job, 'processing');
    await settled(page);
    const gains = region(page, 'From the sources to the loudspeakers');
    await gains.getByText('No channel says yet which inputs it adds').waitFor();
    await gains.getByRole('link', { name: 'Go to Cable' }).click();
    await settled(page);
    const sources = await addStereo(page);
    const level = sources.getByLabel('Usual level');
    await level.fill('0.316 V');
    await level.press('Enter');
    await undo(page, 'Change usual level of Q1').waitFor();
    const long = region(page, 'Lead K2').getByLabel('Length', { exact: true });
    await long.fill('6.5 m');
    await long.press('Enter');
    await undo(page, 'Change length of K2').waitFor();
    await summary(page, /^Channel west/).click();
    const adds = page.getByRole('group', { name: 'Adds the inputs of A1' }).first();
    await adds.getByRole('checkbox', { name: /^Input 1:/ }).check();
    await adds.getByRole('checkbox', { name: /^Input 2:/ }).check();
    await expect.poll(async () => (await documentOf(job)).channels.west!.inputs).toEqual([1, 2]);
    await page
      .getByRole('navigation')
      .getByRole('link', { name: /^Processing/ })
      .click();
    const west = gains.getByRole('region', { name: 'Gain of channel west' });
    await west.waitFor();
    // 0.316 V is 20 lg(0.316 / 0.7746) = -7.8 dBu.
    await west.getByText('316 mV, -7.8 dBu').first().waitFor();
    interface Told {
      channels: Record<
        string,
        { gain_db: number; wanted_v: number; full_output_v: number; sources: { level_db: number }[] }
      >;
    }
    const told = (await world.read<Told>(`/jobs/${job}/sources`)).channels.west!;
    // By the definition of gain: what is wanted over what there is at 0 dB.
    const by_hand = 20 * Math.log10(told.wanted_v / told.full_output_v) - told.sources[0]!.level_db;
    expect(told.gain_db).toBeCloseTo(by_hand, 6);
    await west
      .getByText(`${told.gain_db.toFixed(1)} dB`, { exact: true })
      .first()
      .waitFor();
    await west.getByRole('button', { name: /^Why Gain to set/ }).click();
    await page
      .getByRole('dialog')
      .getByText(/Q1 drives the output to/)
      .waitFor();
    await page.getByRole('dialog').getByRole('button', { name: 'Close' }).click();
    // What is wrong on the way is said here and in the findings, which lead to the lead itself.
    await gains.getByText('Lead K2 is 6.5 m').first().waitFor();
    await page.getByRole('region', { name: 'Findings' }).getByRole('button').first().click();
    const finding = page.getByRole('listitem').filter({ hasText: 'Lead K2 is 6.5 m' }).last();
    await finding.getByRole('button', { name: 'Go to K2' }).click();
    await region(page, 'Lead K2').getByLabel('Length', { exact: true }).waitFor();
    expect(world.complaints).toEqual([]);
  });

  it('can be entered with the keyboard alone', async () => {
    const job = await cafe();
    const page = await world.person('Ada');
    await world.open(page, job, 'cable');
    await settled(page);
    const keys = new Keys(page);
    const sources = region(page, 'Sources');
    await keys.take(sources.getByRole('button', { name: 'Source', exact: true }));
    await keys.fill(sources.getByLabel('Name', { exact: true }), 'Mixer');
    await keys.press('Enter');
    await undo(page, 'Change name of Q1').waitFor();
    await keys.take(sources.getByRole('button', { name: 'Lead of Q1' }));
    await undo(page, 'Add lead K1').waitFor();
    expect(Object.keys((await documentOf(job)).leads!)).toEqual(['K1']);
  });
});

describe('how an amplifier was left', () => {
  it('is entered in its form, and what is emptied is gone', async () => {
    const job = await cafe();
    const page = await world.person('Ada');
    await world.open(page, job, 'cable');
    await settled(page);
    await summary(page, /^Amplifier A1/).click();
    const left = region(page, 'How A1 was left');
    await left.getByText('never the password itself').first().waitFor();
    for (const [label, value] of [
      ['Address on the network', '192.0.2.20'],
      ['Firmware', '2.4'],
    ] as const) {
      await left.getByLabel(label).fill(value);
      await left.getByLabel(label).press('Enter');
      await undo(page, `Change ${label.toLowerCase()} of the record of A1`).waitFor();
    }
    expect((await documentOf(job)).amplifiers.A1!.commissioned).toEqual({
      address: '192.0.2.20',
      firmware: '2.4',
    });
    await left.getByLabel('Firmware').fill('');
    await left.getByLabel('Firmware').press('Enter');
    await expect
      .poll(async () => (await documentOf(job)).amplifiers.A1!.commissioned)
      .toEqual({ address: '192.0.2.20' });
    expect(world.complaints).toEqual([]);
  });
});

describe.each([
  [360, 'light'],
  [360, 'dark'],
  [1440, 'light'],
  [1440, 'dark'],
] as const)('at %d px, %s', (width, colorScheme) => {
  it('sources, inputs, records and gains are whole, large enough and good', async () => {
    const job = await cafe();
    const page = await world.person('Ada', {
      viewport: { width, height: 800 },
      colorScheme,
      bypassCSP: true,
    });
    await world.open(page, job, 'cable');
    await settled(page);
    await addStereo(page);
    await summary(page, /^Amplifier A1/).click();
    await summary(page, /^Channel west/).click();
    const adds = page.getByRole('group', { name: 'Adds the inputs of A1' }).first();
    await adds.getByRole('checkbox', { name: /^Input 1:/ }).check();
    await expect.poll(async () => (await documentOf(job)).channels.west!.inputs).toEqual([1]);
    for (const at of ['cable', 'processing']) {
      if (at === 'processing')
        await page
          .getByRole('navigation')
          .getByRole('link', { name: /^Processing/ })
          .click();
      await settled(page);
      expect(await tooWide(page), at).toEqual([]);
      expect(await tooSmall(page, 12), at).toEqual([]);
      expect(await tooLow(page, 44), at).toEqual([]);
      expect(await serious(page), at).toEqual([]);
    }
    expect(world.complaints).toEqual([]);
  }, 200_000);
});
