/** Where a line starts and on which pairs, chosen by name and colour. */
import type { Page } from 'playwright-core';
import { afterAll, afterEach, beforeAll, describe, expect, it } from 'vitest';
import { Keys } from './keys';
import { settled, World } from './world';

const world = new World();
beforeAll(() => world.start());
afterEach(() => world.leave());
afterAll(() => world.stop());

interface Document {
  lines: Record<
    string,
    {
      start?: string;
      stub_pairs?: number[];
      pair?: number;
      runs?: Record<string, { from: string; to: string; via?: unknown }>;
    }
  >;
}
const documentOf = async (job: string) => (await world.read<{ document: Document }>(`/jobs/${job}`)).document;
const saved = (page: Page) => page.locator('header').getByText('saved').waitFor();
const undo = (page: Page, what: string) => page.getByRole('button', { name: `Undo: ${what}` });

/** Old cable with two pairs, from the rack at the south wall of the house to its east wall. */
const STUB = {
  op: 'add',
  path: '/stubs',
  value: { T1: { name: 'East wall', position: [22.1, 23.5], cable: 'burial-4x16awg', length: 31 } },
};

/** Opens the form of a line on the Cable page. */
async function formOf(page: Page, line: string) {
  await page.getByRole('button', { name: `Change line ${line}` }).click();
  return page.getByRole('region', { name: new RegExp(`^${line}, line`) });
}

describe('a line', () => {
  it('starts at existing cable chosen by name, takes its pairs by colour, and goes back to the rack', async () => {
    const job = await world.exampleWith([STUB]);
    const page = await world.person('Ada');
    await world.open(page, job, 'cable');
    await settled(page);
    const before = (await documentOf(job)).lines;
    const first = Object.entries(before.A!.runs!).filter(([, r]) => r.from === 'R1' || r.to === 'R1');
    const form = await formOf(page, 'A');
    // Whoever opens it with the keys is in it.
    expect(await form.evaluate((e) => e === document.activeElement)).toBe(true);
    const start = form.getByLabel('Starts at');
    expect(await start.locator('option').allInnerTexts()).toEqual([
      'Rack R1, Plant room behind the kitchen',
      'Stub-out T1, East wall, from rack R1',
    ]);
    await start.selectOption('T1');
    await undo(page, 'Start line A at T1').waitFor();
    await page
      .getByRole('status')
      .filter({ hasText: /go(es)? straight from there/ })
      .waitFor();
    const moved = (await documentOf(job)).lines.A!;
    expect(moved.start).toBe('T1');
    for (const [id] of first) {
      expect([moved.runs![id]!.from, moved.runs![id]!.to]).toContain('T1');
      expect(moved.runs![id]!.via).toBeUndefined();
    }
    // Pairs by the colours of the catalogue, as drawn on the jacket: red and black, white and green.
    const pairs = form.getByRole('group', { name: 'Pairs of the existing cable at T1' });
    const box = (n: number) => pairs.getByRole('checkbox', { name: new RegExp(`^Pair ${n}:`) });
    await pairs.getByText('Pair 1: red positive, black negative').waitFor();
    await pairs.getByText('Pair 2: white positive, green negative').waitFor();
    await form.getByText(/Green is earth by many local codes/).waitFor();
    expect([await box(1).isChecked(), await box(2).isChecked()]).toEqual([true, false]);
    await box(2).check();
    await undo(page, 'Change the pairs of line A').waitFor();
    expect((await documentOf(job)).lines.A!.stub_pairs).toEqual([1, 2]);
    await box(1).uncheck();
    await form.getByText('One pair at least').waitFor();
    await saved(page);
    expect((await documentOf(job)).lines.A!.stub_pairs).toEqual([2]);
    // A line cannot be without a pair.
    expect(await box(2).isDisabled()).toBe(true);
    await page.getByText('It starts at stub-out T1 on pair 2, white positive, green negative.').waitFor();

    // Another line comes to it: it gets the pair that is left, and sees who has the other.
    await formOf(page, 'B');
    const other = page.getByRole('region', { name: /^B, line/ });
    await other.getByLabel('Starts at').selectOption('T1');
    await undo(page, 'Start line B at T1').waitFor();
    await other.getByText('Pair 2: white positive, green negative, taken by line A').waitFor();
    await other.getByRole('button', { name: 'Swap with line A' }).click();
    await undo(page, 'Change the pairs of line B').waitFor();
    const { A, B } = (await documentOf(job)).lines;
    expect([A!.stub_pairs, B!.stub_pairs]).toEqual([[1], [2]]);
    // A third finds none.
    await formOf(page, 'C');
    const third = page.getByRole('region', { name: /^C, line/ }).getByLabel('Starts at');
    expect(await third.locator('option[value="T1"]').isDisabled()).toBe(true);
    expect(await third.locator('option[value="T1"]').innerText()).toMatch(/no pair is left/);

    // Back to the rack: nothing of the stub-out is left on it.
    await formOf(page, 'A');
    await start.selectOption('R1');
    await undo(page, 'Start line A at R1').waitFor();
    const back = (await documentOf(job)).lines.A!;
    expect([back.start, back.stub_pairs]).toEqual([undefined, undefined]);
    expect(world.complaints).toEqual([]);
  });

  it('is started elsewhere and takes its pairs with the keyboard alone', async () => {
    const job = await world.exampleWith([STUB]);
    const page = await world.person('Ada');
    await world.open(page, job, 'cable');
    await settled(page);
    const keys = new Keys(page);
    await keys.take(page.getByRole('button', { name: 'Change line A' }));
    const form = page.getByRole('region', { name: /^A, line/ });
    await keys.to(form.getByLabel('Starts at'));
    await keys.press('ArrowDown');
    await undo(page, 'Start line A at T1').waitFor();
    await keys.to(form.getByRole('checkbox', { name: /^Pair 2:/ }));
    await keys.press('Space');
    await undo(page, 'Change the pairs of line A').waitFor();
    expect((await documentOf(job)).lines.A).toMatchObject({ start: 'T1', stub_pairs: [1, 2] });
    expect(world.complaints).toEqual([]);
  });

  it('takes another pair of its own cable where that has several', async () => {
    const job = await world.exampleWith([{ op: 'replace', path: '/lines/A/cable', value: 'burial-4x14awg' }]);
    const page = await world.person('Ada');
    await world.open(page, job, 'cable');
    await settled(page);
    const form = await formOf(page, 'A');
    const own = form.getByRole('group', { name: 'Pair of its own cable' });
    await own.getByRole('radio', { name: 'Pair 2: white positive, green negative' }).check();
    await undo(page, 'Change the pair of line A').waitFor();
    expect((await documentOf(job)).lines.A!.pair).toBe(2);
    const runs = (await world.read<{ runs: { line: string; positive: string[] }[] }>(`/jobs/${job}/lines`))
      .runs;
    expect(new Set(runs.filter((r) => r.line === 'A').flatMap((r) => r.positive))).toEqual(
      new Set(['white']),
    );
    // One of two conductors has nothing to choose.
    await formOf(page, 'B');
    await page
      .getByRole('region', { name: /^B, line/ })
      .getByText('Its own cable: red positive, black negative.')
      .waitFor();
    expect(world.complaints).toEqual([]);
  });

  it('is not lost where its start cannot be moved: that is said, and the choice stands as it was', async () => {
    const job = await world.exampleWith([
      STUB,
      { op: 'add', path: '/lines/A/runs/A1/existing', value: true },
    ]);
    const page = await world.person('Ada');
    await world.open(page, job, 'cable');
    await settled(page);
    const form = await formOf(page, 'A');
    await form.getByLabel('Starts at').selectOption('T1');
    const told = form.getByRole('alert');
    await told.getByText('Run A1 is cable that lies there already').waitFor();
    expect(await form.getByLabel('Starts at').inputValue()).toBe('R1');
    expect((await documentOf(job)).lines.A!.start).toBeUndefined();
  });
});
