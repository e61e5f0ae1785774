/** Old cable and holes in walls by the mouse, what hangs on them, and what a new route takes away. */
import type { Page } from 'playwright-core';
import { afterAll, afterEach, beforeAll, describe, expect, it } from 'vitest';
import { onScreen, settled, still, World } from './world';

const world = new World();
beforeAll(() => world.start());
afterEach(() => world.leave());
afterAll(() => world.stop());

interface Document {
  racks?: Record<string, unknown>;
  stubs?: Record<string, { rack?: string; position: [number, number] }>;
  passages?: Record<string, { position: [number, number] }>;
  joints?: Record<string, unknown>;
}
const documentOf = async (job: string) => (await world.read<{ document: Document }>(`/jobs/${job}`)).document;
const undo = (page: Page, what: string) => page.getByRole('button', { name: `Undo: ${what}` });

async function clickPlan(page: Page, x: number, y: number) {
  const at = await onScreen(page, x, y);
  await page.mouse.click(at.x, at.y);
}
const tool = (page: Page, name: string) =>
  page.getByRole('toolbar').getByRole('button', { name, exact: true }).click();

/** Old cable with two pairs, from the rack at the south wall of the house to its east wall. */
const STUB = {
  op: 'add',
  path: '/stubs',
  value: { T1: { name: 'East wall', position: [22.1, 23.5], cable: 'burial-4x16awg', length: 31 } },
};

describe('old cable and holes in walls, by the mouse', () => {
  it.each(['site', 'cable'])('are drawn, taken out by a key and brought back, on %s', async (at) => {
    const job = await world.job('example');
    const page = await world.person('Ada');
    await world.open(page, job, at);
    await still(page);
    await tool(page, 'Stub-out');
    await clickPlan(page, 10, 18);
    await page.getByRole('heading', { name: /^T1/ }).waitFor();
    expect((await documentOf(job)).stubs!.T1).toMatchObject({ position: [10, 18], rack: 'R1' });
    // Dashed from its rack to where it comes out.
    const old = page.locator('path.old-cable');
    await old.waitFor({ state: 'attached' });
    expect(await old.evaluate((e) => getComputedStyle(e).strokeDasharray)).toMatch(/^\d/);
    await page.keyboard.press('Delete');
    await page.getByText('Took out T1.').waitFor();
    expect((await documentOf(job)).stubs?.T1).toBeUndefined();
    expect(await old.count()).toBe(0);
    await page.getByRole('button', { name: 'Undo', exact: true }).click();
    await page.getByRole('button', { name: 'Redo: Take out T1' }).waitFor();
    expect((await documentOf(job)).stubs!.T1).toBeDefined();
    await old.waitFor({ state: 'attached' });

    // Near the wall, the place snaps into it.
    await tool(page, 'Passage');
    await clickPlan(page, 12, 20.6);
    await page.getByRole('heading', { name: /^W1/ }).waitFor();
    expect((await documentOf(job)).passages!.W1!.position).toEqual([12, 20.5]);
    await page.getByRole('button', { name: 'Close W1' }).click();
    await clickPlan(page, 12, 20.5);
    await page.getByRole('heading', { name: /^W1/ }).waitFor();
    await page.keyboard.press('Delete');
    await page.getByText('Took out W1.').waitFor();
    expect((await documentOf(job)).passages?.W1).toBeUndefined();
    await page.keyboard.press('Control+z');
    await page.getByRole('button', { name: 'Redo: Take out W1' }).waitFor();
    expect((await documentOf(job)).passages!.W1).toBeDefined();
    expect(world.complaints).toEqual([]);
  });

  it('a rack says which old cable comes from it, also where the cable does not', async () => {
    const job = await world.exampleWith([STUB]);
    expect((await documentOf(job)).stubs!.T1!.rack).toBeUndefined();
    const page = await world.person('Ada');
    await world.open(page, job, 'site');
    await page.getByText(/^Racks/).click();
    await page.getByRole('button', { name: /^R1/ }).click();
    await page.getByRole('button', { name: 'Take out R1' }).click();
    const asked = page.getByRole('dialog', { name: /Take out rack R1/i });
    await asked.getByText('stub-out T1').waitFor();
    await asked.getByRole('button', { name: 'Leave it' }).click();
    expect((await documentOf(job)).racks!.R1).toBeDefined();
    // A second rack does not leave it without one.
    await page.getByRole('button', { name: 'Close R1' }).click();
    await tool(page, 'Rack');
    await clickPlan(page, 6, 21);
    await page.getByRole('heading', { name: /^R2/ }).waitFor();
    expect((await documentOf(job)).stubs!.T1!.rack).toBe('R1');
    expect(await page.getByRole('alert').count()).toBe(0);
    expect(world.complaints).toEqual([]);
  });
});

describe('routing again', () => {
  it('says which joints go before it is accepted', async () => {
    const job = await world.job('example');
    const page = await world.person('Ada');
    await world.open(page, job, 'cable');
    await settled(page);
    await still(page);
    const runs = (
      await world.read<{ runs: { line: string; way: [number, number][] }[] }>(`/jobs/${job}/lines`)
    ).runs;
    const [a, b] = runs.find((r) => r.line === 'A' && r.way.length >= 2)!.way;
    await tool(page, 'Joint');
    await clickPlan(page, (a![0] + b![0]) / 2, (a![1] + b![1]) / 2);
    const heading = page.getByRole('heading', { name: /^J\d/ });
    await heading.waitFor();
    const joint = /^J\d+/.exec(await heading.innerText())![0];
    await page.getByRole('button', { name: 'Route again' }).first().click();
    const found = page.getByRole('region', { name: 'Routes' }).getByRole('status');
    await found.getByText(new RegExp(`Joints? .*${joint}.* go`)).waitFor();
    expect((await documentOf(job)).joints![joint]).toBeDefined();
    await found.getByRole('button', { name: 'Lay it this way' }).click();
    await undo(page, 'Route the cable again').waitFor();
    expect((await documentOf(job)).joints?.[joint]).toBeUndefined();
    expect(world.complaints).toEqual([]);
  });

  it('from a finding asks first, where something goes', async () => {
    // A joint in the first run of line A, and that run led through the roots of the old tree.
    const job = await world.exampleWith([
      { op: 'add', path: '/joints/J9', value: { position: [13, 4] } },
      { op: 'copy', from: '/lines/A/runs/A1', path: '/lines/A/runs/A9' },
      { op: 'replace', path: '/lines/A/runs/A9/from', value: 'J9' },
      { op: 'replace', path: '/lines/A/runs/A1/to', value: 'J9' },
      { op: 'add', path: '/lines/A/runs/A1/via', value: [[13.5, 2.1]] },
    ]);
    const page = await world.person('Ada');
    await world.open(page, job, 'cable');
    await settled(page);
    await page.getByRole('region', { name: 'Findings' }).getByRole('button').first().click();
    const finding = page.getByRole('listitem').filter({ hasText: 'A1' }).filter({ hasText: 'old-apple' });
    await finding.getByRole('button', { name: 'Route again' }).click();
    const asked = page.getByRole('dialog', { name: 'Route again?' });
    await asked.getByText(/Joints? .*J9.* go/).waitFor({ timeout: 120_000 });
    await asked.getByRole('button', { name: 'Leave it' }).click();
    expect((await documentOf(job)).joints!.J9).toBeDefined();
    await finding.getByRole('button', { name: 'Route again' }).click();
    await asked.getByRole('button', { name: 'Do it' }).click({ timeout: 120_000 });
    await undo(page, 'Route again').waitFor();
    expect((await documentOf(job)).joints?.J9).toBeUndefined();
    expect(world.complaints).toEqual([]);
  });
});
