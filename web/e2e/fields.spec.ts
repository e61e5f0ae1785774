/** What stands in a field: the job's value unless somebody types there, whatever key is pressed and however the window is left. */
import type { Page } from 'playwright-core';
import { afterAll, afterEach, beforeAll, describe, expect, it } from 'vitest';
import { World } from './world';

const world = new World();
beforeAll(() => world.start());
afterEach(() => world.leave());
afterAll(() => world.stop());

interface Log {
  note: string;
  kind: string;
}
const nightOf = async (job: string) =>
  (await world.read<{ document: { brief: Record<string, unknown> } }>(`/jobs/${job}`)).document.brief
    .night_turn_down;
const night = (page: Page) => page.getByRole('textbox', { name: 'Turned down at night by' });

describe('undo by its key', () => {
  it("is the job's right after a field was left, and takes back one edit", async () => {
    const job = await world.job('example');
    const page = await world.person('Ada');
    await world.open(page, job, 'brief');
    const before = await night(page).inputValue();
    await night(page).click();
    await page.keyboard.press('Control+A');
    await page.keyboard.type('17 dB');
    await page.keyboard.press('Tab');
    await page.getByRole('button', { name: /^Undo: Change turned down at night by/ }).waitFor();
    expect(await nightOf(job)).toBe('17 dB');
    // The cursor is in the next field, in which nobody has typed.
    await page.keyboard.press('Control+Z');
    await page.getByRole('button', { name: /^Redo: Change turned down at night by/ }).waitFor();
    expect(await nightOf(job)).not.toBe('17 dB');
    await expect.poll(() => night(page).inputValue()).toBe(before);
    // Leaving the field makes no edit of a text that nobody typed.
    await page.getByRole('heading', { name: 'The job', exact: true }).click();
    await page.waitForTimeout(500);
    const log = await world.read<Log[]>(`/jobs/${job}/history?limit=50`);
    expect(log.filter((e) => e.note.startsWith('Change turned down')).map((e) => e.kind)).toEqual([
      'undo',
      'edit',
    ]);
    expect(world.complaints).toEqual([]);
  });

  it("is the field's while somebody types there", async () => {
    const job = await world.job('example');
    const page = await world.person('Ada');
    await world.open(page, job, 'brief');
    const revision = async () => (await world.read<{ revision: number }>(`/jobs/${job}`)).revision;
    const at = await revision();
    const before = await night(page).inputValue();
    await night(page).click();
    await page.keyboard.press('End');
    await page.keyboard.type('9');
    await page.keyboard.press('Control+Z');
    await expect.poll(() => night(page).inputValue()).toBe(before);
    expect(await revision()).toBe(at);
  });
});

describe('a window that is closed', () => {
  it('sends what stands typed in a field, and asks', async () => {
    const job = await world.job('example');
    const page = await world.person('Ada');
    await world.open(page, job, 'brief');
    let asked = 0;
    page.on('dialog', (dialog) => {
      asked++;
      void dialog.accept();
    });
    await night(page).click();
    await page.keyboard.press('Control+A');
    await page.keyboard.type('13 dB');
    const closed = page.waitForEvent('close');
    await page.close({ runBeforeUnload: true });
    await closed;
    expect(asked).toBe(1);
    await expect.poll(() => nightOf(job), { timeout: 10_000 }).toBe('13 dB');
  });

  it('asks nothing where nothing would be lost', async () => {
    const job = await world.job('example');
    const page = await world.person('Ada');
    await world.open(page, job, 'brief');
    let asked = 0;
    page.on('dialog', (dialog) => {
      asked++;
      void dialog.accept();
    });
    await night(page).click();
    const closed = page.waitForEvent('close');
    await page.close({ runBeforeUnload: true });
    await closed;
    expect(asked).toBe(0);
  });
});

describe('corners typed one after the other', () => {
  it('stay unfolded, with the cursor where it goes', async () => {
    const job = await world.job('example');
    const page = await world.person('Ada');
    await world.open(page, job, 'site');
    await page.getByRole('button', { name: 'Search what can be done' }).click();
    await page.getByRole('combobox', { name: 'What is to be done' }).waitFor();
    await page.keyboard.type('Choose listening area');
    await page.keyboard.press('Enter');
    const panel = page.locator('.panel .thing');
    await panel.getByText('Corners', { exact: false }).first().click();
    const first = panel.getByLabel('East of point 1', { exact: true });
    await first.fill('1.25 m');
    await first.press('Tab');
    await page.getByRole('button', { name: /^Undo: Move / }).waitFor();
    const second = panel.getByLabel('North of point 1', { exact: true });
    expect(await second.isVisible()).toBe(true);
    expect(await second.evaluate((box) => box === document.activeElement)).toBe(true);
  });
});
