/** Cable by hand: loudspeakers put on lines that lie already, stub-outs and joints drawn. */
import type { Page } from 'playwright-core';
import { afterAll, afterEach, beforeAll, describe, expect, it } from 'vitest';
import { onScreen, settled, still, World } from './world';

const world = new World();
beforeAll(() => world.start());
afterEach(() => world.leave());
afterAll(() => world.stop());

type Run = { from: string; to: string; via?: [number, number][]; length?: string };
interface Document {
  loudspeakers: Record<string, { line?: string; tap?: number | string; position: [number, number] }>;
  lines: Record<string, { runs: Record<string, Run> }>;
  joints?: Record<string, { position: [number, number] }>;
  stubs?: Record<string, Record<string, unknown>>;
  passages?: Record<string, Record<string, unknown>>;
}
const documentOf = async (job: string) => (await world.read<{ document: Document }>(`/jobs/${job}`)).document;
const saved = (page: Page) => page.locator('header').getByText('saved').waitFor();
async function clickPlan(page: Page, x: number, y: number) {
  const at = await onScreen(page, x, y);
  await page.mouse.click(at.x, at.y);
}
const tool = (page: Page, name: string) =>
  page.getByRole('toolbar').getByRole('button', { name, exact: true }).click();

/** Keys of the file: backticks, tables in brackets, dotted paths, words joined by underscores. */
const KEYS = /`|\[[a-z]|[a-z]\.[a-z]+\.|[a-z]_[a-z]/;

describe('a loudspeaker put down by hand', () => {
  it('joins a line that has runs by choosing the line in its panel, and leaves it again', async () => {
    const job = await world.job('example');
    const page = await world.person('Ada');
    await world.open(page, job, 'sound');
    await still(page);
    const before = await documentOf(job);
    await page.getByRole('tab', { name: 'Place', exact: true }).click();
    await page.getByRole('button', { name: /^stake-165-wide/ }).click();
    await clickPlan(page, 12, 4);
    await page.getByRole('heading', { name: /^L21/ }).waitFor();
    await page.getByRole('button', { name: 'Stop placing' }).click();
    await page.getByLabel('Line', { exact: true }).selectOption('A');
    await page.getByRole('button', { name: 'Undo: Put L21 on line A' }).waitFor();
    const on = await documentOf(job);
    expect(on.loudspeakers.L21!.line).toBe('A');
    const led = Object.values(on.lines.A!.runs).filter((r) => r.to === 'L21');
    expect(led).toHaveLength(1);
    expect(Object.keys(on.lines.A!.runs)).toHaveLength(Object.keys(before.lines.A!.runs).length + 1);
    await page.getByRole('status').filter({ hasText: 'leads to it from' }).waitFor();
    // What can be worked out follows: it gets its volts.
    const { lines } = await world.read<{
      lines: Record<string, { loads: { load: string }[] }>;
    }>(`/jobs/${job}/lines`);
    expect(lines.A!.loads.map((l) => l.load)).toContain('L21');
    // Another is placed while this one is chosen: it goes on the same line by itself.
    await page.getByRole('button', { name: /^stake-165-wide/ }).click();
    await clickPlan(page, 14, 4);
    await page.getByRole('heading', { name: /^L22/ }).waitFor();
    expect((await documentOf(job)).loudspeakers.L22!.line).toBe('A');
    await page.getByRole('button', { name: 'Stop placing' }).click();
    await page.getByLabel('Line', { exact: true }).selectOption('');
    await page.getByRole('button', { name: 'Undo: Take L22 off its line' }).waitFor();
    expect((await documentOf(job)).lines).toEqual(on.lines);
    expect(await page.getByRole('alert').count()).toBe(0);
    expect(world.complaints).toEqual([]);
  });

  it('changes from one line to another, and what cannot be is said without the words of the file', async () => {
    const job = await world.job('example');
    const page = await world.person('Ada');
    await world.open(page, job, 'cable');
    await settled(page);
    const { position } = (await documentOf(job)).loudspeakers.L2!;
    await clickPlan(page, ...position);
    await page.getByRole('heading', { name: /^L2/ }).waitFor();
    await page.getByLabel('Line', { exact: true }).selectOption('B');
    await page.getByRole('button', { name: 'Undo: Put L2 on line B' }).waitFor();
    const now = await documentOf(job);
    const ends = (line: string) => Object.values(now.lines[line]!.runs).flatMap((r) => [r.from, r.to]);
    expect(ends('A')).not.toContain('L2');
    expect(ends('B')).toContain('L2');
    // The tap taken out of a line that needs one.
    const tap = page.getByLabel('Tap', { exact: true });
    await tap.selectOption('');
    const told = page.getByRole('alert');
    await told.waitFor();
    const text = await told.innerText();
    expect(text).toMatch(/L2 needs a transformer tap/);
    expect(text).not.toMatch(KEYS);
    expect(world.complaints).toEqual([]);
  });
});

describe('what lies there already', () => {
  it('is drawn: a stub-out on the site, with a form for its cable, and moved on the cable page', async () => {
    const job = await world.job('example');
    const page = await world.person('Ada');
    await world.open(page, job, 'site');
    await still(page);
    await tool(page, 'Stub-out');
    // Far from all it could be drawn to.
    await clickPlan(page, 14, 8);
    await page.getByRole('heading', { name: /^T1/ }).waitFor();
    // It leads to the nearest rack; a length is not made up.
    const { stubs } = await documentOf(job);
    expect(stubs!.T1).toMatchObject({ rack: 'R1', position: [14, 8] });
    expect(stubs!.T1!.length).toBeUndefined();
    // Everything the schema knows of it can be typed but its place, which is drawn.
    const schema = (await import('../../docs/schema/job.schema.json')) as unknown as {
      $defs: { Stub: { properties: Record<string, unknown> } };
    };
    const panel = page.getByRole('region', { name: /^T1/ });
    const known = Object.keys(schema.$defs.Stub.properties).filter((key) => key !== 'position');
    expect(await panel.locator('.field').count()).toBe(known.length);
    const long = panel.getByLabel('Length', { exact: true });
    await long.fill('31 m');
    await long.press('Enter');
    await saved(page);
    await panel.getByLabel('Free conductors', { exact: true }).fill('2');
    await panel.getByLabel('Free conductors', { exact: true }).press('Enter');
    await page.getByRole('button', { name: 'Undo: Change free conductors of T1' }).waitFor();
    expect((await documentOf(job)).stubs!.T1).toMatchObject({ length: '31 m', free_conductors: 2 });
    const pairs = panel.getByLabel('Free pairs', { exact: true });
    await pairs.fill('one');
    await pairs.press('Enter');
    await panel.getByRole('alert').filter({ hasText: 'whole numbers' }).waitFor();
    await panel.getByLabel('Free conductors', { exact: true }).fill('');
    await panel.getByLabel('Free conductors', { exact: true }).press('Enter');
    await page.getByRole('button', { name: 'Undo: Change free conductors of T1' }).waitFor();
    await saved(page);
    await pairs.fill('1');
    await pairs.press('Enter');
    await page.getByRole('button', { name: 'Undo: Change free pairs of T1' }).waitFor();
    expect((await documentOf(job)).stubs!.T1).toMatchObject({ free_pairs: [1] });
    await page.keyboard.press('Escape');
    await page.getByRole('button', { name: 'Close T1' }).click();
    await page
      .getByRole('navigation')
      .getByRole('link', { name: /^Cable/ })
      .click();
    await still(page);
    await clickPlan(page, 14, 8);
    await page.getByRole('button', { name: 'Move by arrow keys' }).click();
    await page.keyboard.press('Shift+ArrowRight');
    await page.getByRole('button', { name: 'Undo: Move T1' }).waitFor();
    expect((await documentOf(job)).stubs!.T1!.position).toEqual([15, 8]);
    expect(world.complaints).toEqual([]);
  });

  it('a passage through a wall is drawn, said how wide, and taken out; old cable shows from its rack', async () => {
    const job = await world.job('example');
    const page = await world.person('Ada');
    await world.open(page, job, 'site');
    await still(page);
    await tool(page, 'Passage');
    await clickPlan(page, 22, 24);
    await page.getByRole('heading', { name: /^W1/ }).waitFor();
    await page.getByLabel('Inside diameter').fill('1 1/4 in');
    await page.keyboard.press('Enter');
    await saved(page);
    const passages = (await documentOf(job)).passages!;
    expect(passages.W1!.inside_diameter).toBe('1 1/4 in');
    await page.getByRole('button', { name: 'Take out W1' }).click();
    await page.getByText('Took out W1.').waitFor();
    expect((await documentOf(job)).passages?.W1).toBeUndefined();
    await tool(page, 'Stub-out');
    await clickPlan(page, 10, 18);
    await page.locator('path.old-cable').waitFor({ state: 'attached' });
    // With existing cable on the plan, routing may move the starts of lines.
    await world.open(page, job, 'cable');
    await page.getByLabel('Lines may start at existing cable').check();
    await page.getByRole('button', { name: 'Route again' }).click();
    await page.getByRole('button', { name: /Lay it this way|It lies so/ }).waitFor();
    expect(world.complaints).toEqual([]);
  });

  it('where there is no rack, a stub-out says that it needs one', async () => {
    const job = await world.job('empty', 'No rack');
    const page = await world.person('Ada');
    await world.open(page, job, 'site');
    await still(page);
    await tool(page, 'Stub-out');
    await clickPlan(page, 10, 8);
    await page.getByRole('alert').filter({ hasText: /rack/ }).waitFor();
    expect((await documentOf(job)).stubs).toBeUndefined();
  });

  it('a joint goes into the run it is put on: the run becomes two, and the cable stays where it lies', async () => {
    const job = await world.job('example');
    const page = await world.person('Ada');
    await world.open(page, job, 'cable');
    await settled(page);
    await still(page);
    type Laid = { line: string; id: string; from: string; to: string; way: [number, number][] };
    const runs = async () => (await world.read<{ runs: Laid[] }>(`/jobs/${job}/lines`)).runs;
    const before = await runs();
    const run = before.find((r) => r.line === 'A' && r.way.length >= 2)!;
    const [a, b] = [run.way[0]!, run.way[1]!];
    const middle: [number, number] = [(a[0] + b[0]) / 2, (a[1] + b[1]) / 2];
    await tool(page, 'Joint');
    await clickPlan(page, ...middle);
    await page.getByRole('heading', { name: /^J\d/ }).waitFor();
    const after = await runs();
    expect(after).toHaveLength(before.length + 1);
    const id = /^J\d+/.exec(await page.getByRole('heading', { name: /^J\d/ }).innerText())![0];
    const [into, out] = [after.find((r) => r.to === id)!, after.find((r) => r.from === id)!];
    expect([into.from, out.to]).toEqual([run.from, run.to]);
    // One way after the other is the way there was, the joint on it.
    const joined = [...into.way, ...out.way.slice(1)];
    const length = (way: [number, number][]) =>
      way.slice(1).reduce((s, p, i) => s + Math.hypot(p[0] - way[i]![0], p[1] - way[i]![1]), 0);
    expect(length(joined)).toBeCloseTo(length(run.way), 2);
    // And taken out again, the run is whole.
    await page.getByRole('button', { name: `Take out ${id}` }).click();
    await page.getByText(`Took out ${id}.`).waitFor();
    expect((await runs()).map((r) => [r.from, r.to]).sort()).toEqual(
      before.map((r) => [r.from, r.to]).sort(),
    );
    expect(world.complaints).toEqual([]);
  });
});
