/** The program was updated, and a browser has the app of before: kept on a phone, open in the office, or half of it. */
import type { Page } from 'playwright-core';
import { afterAll, afterEach, beforeAll, beforeEach, describe, expect, it } from 'vitest';
import { World } from '../world';
import { Front } from './front';
import { Phone, type Kept } from './phone';

const world = new World();
let front: Front;
beforeAll(() => world.serve());
afterAll(() => world.stop());
beforeEach(async () => {
  front = new Front(world.base);
  await front.start();
});
afterEach(() => front.stop());

/** Which version a page is of. */
const versionOf = (page: Page) =>
  page.evaluate(() => document.querySelector<HTMLMetaElement>('meta[name="loamline-app"]')?.content);
/** Counts how often a page is loaded from now on. */
function counted(page: Page) {
  const loads = { made: 0 };
  page.on('load', () => loads.made++);
  return loads;
}
const becomes = (page: Page, version: string) =>
  page.waitForFunction(
    (wanted) => document.querySelector<HTMLMetaElement>('meta[name="loamline-app"]')?.content === wanted,
    version,
  );
const told = (page: Page, state: 'waits' | 'stuck') => page.locator(`[data-version=${state}]`);
/** So long a page that would go round in a circle has gone round often. */
const A_WHILE_MS = 8000;

describe('a phone with the app of before', () => {
  it('works on out of reach, loads itself anew once within reach, and the new page sends what was kept', async () => {
    const job = await world.job('example');
    const phone = new Phone(front.base, 'Ada');
    await phone.start();
    await phone.take(job);
    const { page } = phone;
    const old = front.own;
    expect(await versionOf(page)).toBe(old);

    // The program is updated while the phone is away.
    await phone.offline(true);
    front.as = front.another('b');
    await page.reload();
    await page.getByText('out of reach, works on').waitFor();
    expect(await versionOf(page)).toBe(old);
    await phone.reading(14.3);
    await phone.reading(14.7);
    await phone.until(2);
    expect(await page.locator('[data-version]').count()).toBe(0);

    const loads = counted(page);
    front.asked = [];
    await phone.offline(false);
    await page.evaluate(() => dispatchEvent(new Event('online')));
    await becomes(page, front.as);
    const readings = async () => {
      const { document } = await world.read<Kept>(`/jobs/${job}`);
      const own = Object.entries(document.visits).find(([id]) => id !== 'V1')?.[1];
      return Object.values(own?.readings ?? {}).map((r) => r.dc);
    };
    await expect.poll(readings, { timeout: 60_000 }).toEqual(['14.3 ohm', '14.7 ohm']);
    await phone.until(0);
    // The page of before has sent nothing: the app was brought up to date first.
    const sent = front.asked.indexOf(`POST /api/jobs/${job}/edits`);
    const renewed = front.asked.indexOf('GET /sw.js');
    expect(renewed).toBeGreaterThanOrEqual(0);
    expect(sent).toBeGreaterThan(renewed);
    expect(sent).toBeGreaterThan(front.asked.findIndex((a) => /^GET \/assets\//.test(a)));
    await page.waitForTimeout(A_WHILE_MS);
    expect(loads.made).toBe(1);
    expect(await page.locator('[data-version]').count()).toBe(0);
    // It opens without a network as before, and is the new one.
    await phone.offline(true);
    await page.reload();
    await page.getByText('out of reach, works on').waitFor();
    expect(await versionOf(page)).toBe(front.as);
    expect(phone.complaints).toEqual([]);
    await phone.stop();
  }, 180_000);

  it('opened within reach is the new one before anything is done with it', async () => {
    const job = await world.job('example');
    const phone = new Phone(front.base, 'Ada');
    await phone.start();
    await phone.take(job);
    front.as = front.another('c');
    await phone.page.goto(`${front.base}/#/${job}/brief`);
    await phone.page.reload();
    await becomes(phone.page, front.as);
    await phone.page.getByRole('heading', { name: 'Means and limits' }).waitFor();
    expect(phone.complaints).toEqual([]);
    await phone.stop();
  }, 120_000);
});

describe('a page that is open while the program is updated', () => {
  it('keeps what is half typed, and loads itself anew once that is kept', async () => {
    const job = await world.job('example');
    const phone = new Phone(front.base, 'Ada');
    await phone.start();
    const { page } = phone;
    await page.goto(`${front.base}/#/${job}/brief`);
    const field = page.getByRole('textbox', { name: 'Turned down at night by' });
    await field.waitFor();
    const loads = counted(page);
    await field.fill('8 dB');

    // The live channel breaks off and comes back: that tells.
    front.as = front.another('d');
    front.cut();
    await told(page, 'waits').waitFor();
    await page.waitForTimeout(A_WHILE_MS);
    expect(loads.made).toBe(0);
    expect(await field.inputValue()).toBe('8 dB');

    await field.press('Enter');
    await becomes(page, front.as);
    await field.waitFor();
    expect(await field.inputValue()).toBe('8 dB');
    const { document } = await world.read<{ document: { brief: Record<string, unknown> } }>(`/jobs/${job}`);
    expect(document.brief.night_turn_down).toBe('8 dB');
    await page.waitForTimeout(A_WHILE_MS);
    expect(loads.made).toBe(1);
    expect(await told(page, 'waits').count()).toBe(0);
    expect(phone.complaints).toEqual([]);
    await phone.stop();
  }, 180_000);

  it('says so where loading anew does not help, goes on working, and loads again for a person alone', async () => {
    const job = await world.job('example');
    const phone = new Phone(front.base, 'Ada');
    await phone.start();
    const { page } = phone;
    await page.goto(`${front.base}/#/${job}/brief`);
    await page.getByRole('textbox', { name: 'Turned down at night by' }).waitFor();
    const loads = counted(page);
    front.says = front.another('e');
    front.cut();
    const button = told(page, 'stuck').getByRole('button', { name: 'Load anew' });
    await button.waitFor();
    await page.waitForTimeout(A_WHILE_MS);
    expect(loads.made).toBe(1);
    const field = page.getByRole('textbox', { name: 'Turned down at night by' });
    await field.fill('9 dB');
    await field.press('Enter');
    await page.locator('header').getByText('saved').waitFor();
    await button.click();
    await expect.poll(() => loads.made, { timeout: 30_000 }).toBe(2);
    await button.waitFor();
    await page.waitForTimeout(A_WHILE_MS);
    expect(loads.made).toBe(2);
    const { document } = await world.read<{ document: { brief: Record<string, unknown> } }>(`/jobs/${job}`);
    expect(document.brief.night_turn_down).toBe('9 dB');

    // Once they agree again nothing is said any more.
    front.says = null;
    front.cut();
    await told(page, 'stuck').waitFor({ state: 'detached' });
    expect(loads.made).toBe(2);
    expect(phone.complaints).toEqual([]);
    await phone.stop();
  }, 180_000);
});

describe('a page whose parts are gone', () => {
  it('is loaded anew once, then says so with a button, and is never a blank sheet', async () => {
    const job = await world.job('example');
    const phone = new Phone(front.base, 'Ada');
    await phone.start();
    const { page } = phone;
    front.gone = /^\/assets\/.*\.js$/;
    // It is loaded a second time before the first is over.
    await page.goto(`${front.base}/#/${job}/brief`, { waitUntil: 'commit' });
    await page.getByRole('alert').getByText('A part of this page is not to be had').waitFor();
    const button = page.getByRole('button', { name: 'Load anew' });
    await button.waitFor();
    await page.waitForTimeout(A_WHILE_MS);
    expect(front.asked.filter((a) => a === 'GET /')).toHaveLength(2);
    front.gone = null;
    await button.click();
    await page.getByRole('heading', { name: 'Means and limits' }).waitFor();
    await phone.stop();
  }, 120_000);
});
