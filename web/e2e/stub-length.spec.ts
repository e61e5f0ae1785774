/** The length of existing cable from a reading, for somebody who knows nothing of the file. */
import type { Page } from 'playwright-core';
import { afterAll, afterEach, beforeAll, describe, expect, it } from 'vitest';
import { settled, World } from './world';

const world = new World();
beforeAll(() => world.start());
afterEach(() => world.leave());
afterAll(() => world.stop());

interface Document {
  stubs?: Record<string, { length?: number | string }>;
}
const documentOf = async (job: string) => (await world.read<{ document: Document }>(`/jobs/${job}`)).document;
const undo = (page: Page, what: string) => page.getByRole('button', { name: `Undo: ${what}` });

/** Keys of the file and the words of the command line: nothing for the app. */
const OF_THE_FILE = /`|\[[a-z]|[a-z]\.[a-z]+\.|[a-z]_[a-z]|loamline |--[a-z]/;

describe('the length of existing cable', () => {
  it('comes from a reading of a loop and is stored by one press', async () => {
    const job = await world.exampleWith([
      { op: 'add', path: '/stubs', value: { T1: { position: [22.1, 23.5], cable: 'burial-4x16awg' } } },
      { op: 'remove', path: '/lines/A/runs' },
      { op: 'add', path: '/lines/A/start', value: 'T1' },
    ]);
    const page = await world.person('Ada');
    await world.open(page, job, 'cable');
    await settled(page);
    // What is said of it speaks to somebody without the file, and leads to where the length is stored.
    await page.getByRole('region', { name: 'Findings' }).getByRole('button').first().click();
    const finding = page
      .getByRole('listitem')
      .filter({ hasText: 'is not known, so nothing can be worked out' });
    expect(await finding.innerText()).not.toMatch(OF_THE_FILE);
    await finding.getByRole('button', { name: 'Go to T1' }).click();
    const form = page.getByRole('region', { name: 'Length of the cable at T1 from a reading' });
    expect(await form.innerText()).not.toMatch(OF_THE_FILE);
    // It names no rack, and there is only one.
    const rack = page.getByRole('region', { name: /^T1,/ }).getByLabel('Rack', { exact: true });
    expect(await rack.locator('option').first().innerText()).toBe('as usual: R1');
    const reads = form.getByLabel('The loop reads');
    await reads.fill('long');
    await reads.press('Enter');
    await form.getByText('is no reading of a loop').waitFor();
    expect(await reads.getAttribute('aria-invalid')).toBe('true');
    await reads.fill('1.1 ohm');
    await reads.press('Enter');
    // l = R / (2 r), r = 13.17 ohm/km (ASTM B258, 16 AWG at 20 C) with 2 % for stranding (ASTM B8).
    const metres = 1.1 / (2 * 0.01317 * 1.02);
    const store = form.getByRole('button', { name: /^Store .* as its length/ });
    await store.waitFor();
    expect(Number(/Store ([\d.]+) m/.exec(await store.innerText())![1]) / metres).toBeCloseTo(1, 2);
    await form.getByText(/95 times in 100/).waitFor();
    expect((await documentOf(job)).stubs!.T1!.length).toBeUndefined();
    // Warmer copper reads more for the same length (0.393 % per kelvin): 68 F is 20 C and changes nothing, 104 F is 40 C.
    await form.getByLabel('Conductors at').fill('104 F');
    await form.getByRole('button', { name: 'Work the length out' }).click();
    const warm = metres / (1 + 0.00393 * 20);
    const offered = async () => Number(/Store ([\d.]+) m/.exec(await store.innerText().catch(() => ''))?.[1]);
    await expect.poll(async () => (await offered()) / warm, { timeout: 30_000 }).toBeCloseTo(1, 2);
    await store.click();
    await undo(page, 'Store the length of the cable at T1').waitFor();
    const stored = Number((await documentOf(job)).stubs!.T1!.length);
    expect(stored / warm).toBeCloseTo(1, 2);
    // It stands in its field, and the line can be worked out.
    expect(await page.getByRole('textbox', { name: 'Length', exact: true }).inputValue()).toMatch(/^3\d/);
    await undo(page, 'Store the length of the cable at T1').click();
    await page.getByRole('button', { name: /^Redo/ }).waitFor();
    expect((await documentOf(job)).stubs!.T1!.length).toBeUndefined();
    // A loop no cable has is said in words.
    await reads.fill('90 kohm');
    await reads.press('Enter');
    await form.getByText(/must be from 0.1 m to 5000 m/).waitFor();
    expect(world.complaints).toEqual([]);
  });
});
