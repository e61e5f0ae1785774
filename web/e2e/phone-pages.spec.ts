/** The pages a phone takes along, at the width of a phone: verdicts, existing cable, a shared stake, readings nothing explains. */
import type { Page } from 'playwright-core';
import { afterAll, afterEach, beforeAll, describe, expect, it } from 'vitest';
import { settled, World } from './world';

const world = new World();
beforeAll(() => world.start());
afterEach(() => world.leave());
afterAll(() => world.stop());

interface Document {
  visits?: Record<string, { done?: Record<string, { notes?: string; at?: string; by?: string }> }>;
}
const phone = () => world.person('Ada', { viewport: { width: 360, height: 740 } });
async function open(page: Page, job: string, at: string) {
  await page.goto(`${world.base}/#along/${job}/${at}`);
  await page.getByRole('navigation', { name: 'Pages' }).waitFor();
}
/** What is typed at the rack, in the unit that stands there. */
async function reads(page: Page, what: string, value: string) {
  const button = page
    .getByRole('group', { name: 'What was measured' })
    .getByRole('button', { name: what, exact: true });
  if ((await button.getAttribute('aria-pressed')) !== 'true') await button.click();
  await page.locator('[data-field=reading]').fill(value);
  await page.getByRole('button', { name: 'Enter', exact: true }).click();
}
const unit = (page: Page) =>
  page.getByRole('group', { name: 'Unit' }).locator('[aria-pressed="true"]').innerText();

describe('measuring', () => {
  it('a line that leaks is bad above what its loop says, and megohm is what a tester shows', async () => {
    const job = await world.job('example');
    const page = await phone();
    await open(page, job, 'measure/A');
    await page.getByLabel(/^The meter reads/).waitFor();
    // What a line A in order reads.
    for (const [what, ohm] of [
      ['DC', '6.58'],
      ['100 Hz', '259'],
      ['1 kHz', '70.9'],
      ['10 kHz', '214'],
    ] as const)
      await reads(page, what, ohm);
    const ranked = page.locator('[data-ranking="A"]');
    await ranked.getByRole('heading', { name: 'Line A: good' }).waitFor();
    await page.getByRole('button', { name: 'to earth', exact: true }).click();
    expect(await unit(page)).toBe('Mohm');
    await page.getByRole('group', { name: 'Unit' }).getByRole('button', { name: 'ohm', exact: true }).click();
    await reads(page, 'to earth', '40');
    await page.locator('[data-verdict="bad"]').waitFor();
    await ranked.getByRole('heading', { name: 'Line A: bad' }).waitFor();
    // The loop alone is as it should be: what reaches earth says where to look, and every end can be it.
    for (const end of ['loudspeaker L1 leaks', 'loudspeaker L6 leaks'])
      await ranked.getByText(`The connector at ${end}: water in it`).waitFor();
    await ranked.getByText("The rack's terminals R1 leak: water on them").waitFor();
    await ranked.getByText('One of these, which the readings cannot tell apart:').first().waitFor();
    await page.getByRole('button', { name: 'DC', exact: true }).click();
    expect(await unit(page)).toBe('ohm');
    expect(world.complaints).toEqual([]);
  });

  it('readings that nothing explains have no likelihoods, on the phone and in the office', async () => {
    // 40 ohm at direct current where some 7 are expected, and 1 kHz as in order: no single fault raises only the one.
    const job = await world.exampleWith([
      { op: 'replace', path: '/visits/V1/readings/A-dc/dc', value: '40 ohm' },
      {
        op: 'add',
        path: '/visits/V1/readings/A-1k',
        value: { line: 'A', impedance: '71 ohm', frequency: '1 kHz' },
      },
    ]);
    const page = await phone();
    await open(page, job, 'measure/A');
    await page.getByLabel(/^The meter reads/).waitFor();
    await reads(page, 'DC', '40');
    await reads(page, '1 kHz', '71');
    const ranked = page.locator('[data-ranking="A"]');
    await ranked.getByText('No single fault explains these readings').waitFor();
    const office = await world.person('Bea');
    await world.open(office, job, 'visits');
    // The newest visit stands first.
    await office.getByRole('button', { name: 'What explains line A?' }).first().click();
    const found = office.getByRole('region', { name: 'What explains line A' });
    await found.getByText('No single fault explains these readings').waitFor();
    for (const told of [ranked, found]) {
      expect(await told.getByRole('listitem').count()).toBe(0);
      const said = await told.innerText();
      expect(said).not.toMatch(/standard deviations|over 99 %|in order\b.*%/);
      // By how much it differs from what any fault would give stands there.
      expect(said).toMatch(
        /DC, the meter shows 40\.0 ohm, [\d.]+ times as much where it would show [\d.]+ ohm/,
      );
    }
    expect(world.complaints).toEqual([]);
  });
});

describe('the sheet', () => {
  it('of existing cable has a box for each pair, takes its loop down, and tells the readings of every line', async () => {
    const job = await world.exampleWith([
      {
        op: 'add',
        path: '/stubs',
        value: { T1: { position: [18, 19.8], cable: 'burial-4x16awg', length: 31 } },
      },
      { op: 'remove', path: '/lines/A/runs' },
      { op: 'remove', path: '/lines/B/runs' },
      { op: 'add', path: '/lines/A/start', value: 'T1' },
      { op: 'add', path: '/lines/B/start', value: 'T1' },
      { op: 'add', path: '/lines/A/runs', value: { A1: { from: 'T1', to: 'L4' } } },
      { op: 'add', path: '/lines/B/runs', value: { B1: { from: 'T1', to: 'L12' } } },
      ...['L1', 'L2', 'L3', 'L5', 'L6', 'L7', 'L8', 'L9', 'L10', 'L11'].map((id) => ({
        op: 'remove',
        path: `/loudspeakers/${id}/line`,
      })),
    ]);
    const page = await phone();
    await open(page, job, 'work/T1');
    await page.getByRole('heading', { name: 'T1' }).waitFor();
    const pairs = page.getByRole('checkbox', { name: /^Pair \d found at both ends/ });
    expect(await pairs.count()).toBe(2);
    await pairs.first().click();
    await page.getByRole('heading', { name: 'What line A reads in order' }).waitFor();
    await page.getByRole('heading', { name: 'What line B reads in order' }).waitFor();
    const loop = page.getByRole('region', { name: 'Loop of a pair at T1' });
    await loop.getByLabel('The loop reads').fill('1.9');
    await loop.getByRole('button', { name: 'Enter the loop' }).click();
    await loop.getByText('read at the rack: 1.90 ohm, Ada').waitFor();
    await page.locator('[data-waiting="0"]').waitFor();
    const { document } = await world.read<{ document: Document }>(`/jobs/${job}`);
    const done = Object.values(document.visits!).flatMap((v) => Object.values(v.done ?? {}));
    expect(done.filter((d) => d.at === 'T1').map((d) => d.by)).toEqual(['Ada', 'Ada']);
    // The office sees it where the length is worked out.
    const office = await world.person('Bea');
    await world.open(office, job, 'cable');
    await settled(office);
    await office.evaluate(() => (location.hash = location.hash.replace('/cable', '/site')));
    await office.getByText(/^Stub-outs/).click();
    await office.getByRole('button', { name: /^T1/ }).click();
    await office
      .getByRole('region', { name: 'Length of the cable at T1 from a reading' })
      .getByText('read at the rack: 1.90 ohm')
      .waitFor();
    // The visit is headed by its day and by who was there, not by its id.
    await world.open(office, job, 'visits');
    await office.getByRole('heading', { name: /^\d{4}-\d\d-\d\d, .*: Ada$/ }).waitFor();
    expect(await office.getByRole('heading', { name: /^V/ }).count()).toBe(1);
    expect(world.complaints).toEqual([]);
  });

  it('of a loudspeaker says with whom it shares its stake', async () => {
    const job = await world.exampleWith([
      { op: 'replace', path: '/loudspeakers/L3/position', value: [10.8, 13.9] },
    ]);
    const page = await phone();
    await open(page, job, 'work/L2');
    await page.getByText('One stake for L2 and L3: drive it once.').waitFor();
    await page.getByRole('link', { name: 'L3', exact: true }).click();
    await page.getByText('One stake for L3 and L2: drive it once.').waitFor();
    expect(world.complaints).toEqual([]);
  });
});
