/** What is pressed twice is made once, and what others hang on is taken out only when it is meant. */
import { afterAll, afterEach, beforeAll, describe, expect, it } from 'vitest';
import { settled, still, World } from './world';

const world = new World();
beforeAll(() => world.start());
afterEach(() => world.leave());
afterAll(() => world.stop());

interface Document {
  programmes?: Record<string, unknown>;
  passages?: Record<string, unknown>;
  visits?: Record<string, unknown>;
}
const documentOf = async (job: string) => (await world.read<{ document: Document }>(`/jobs/${job}`)).document;

describe('a double click', () => {
  it('begins one job, and makes one programme and one visit in it', async () => {
    const page = await world.person('Ada');
    const name = `Twice ${crypto.randomUUID()}`;
    await page.goto(world.base);
    await page.getByLabel('Name of the place').fill(name);
    await page.getByRole('button', { name: 'Start from nothing' }).dblclick();
    await page.getByRole('heading', { name: 'Means and limits' }).waitFor();
    const mine = (await world.read<{ id: string; name: string }[]>('/jobs')).filter((j) => j.name === name);
    expect(mine).toHaveLength(1);
    const job = mine[0]!.id;
    await page.getByRole('button', { name: 'Programme', exact: true }).dblclick();
    await page.getByRole('button', { name: 'Undo: Add a programme' }).waitFor();
    await page.waitForTimeout(500);
    // The one it began with, and the one that was added.
    expect(Object.keys((await documentOf(job)).programmes!)).toEqual(['music', 'music1']);
    await world.open(page, job, 'visits');
    await page.getByRole('button', { name: 'Visit today' }).dblclick();
    // It is headed by its day and by who began it.
    await page.getByRole('heading', { name: /^\d{4}-\d\d-\d\d, while building: Ada$/ }).waitFor();
    await page.waitForTimeout(500);
    expect(Object.keys((await documentOf(job)).visits!)).toHaveLength(1);
    expect(world.complaints).toEqual([]);
  });
});

describe('a passage that cable goes through', () => {
  it('is taken out only once that is agreed, run by run', async () => {
    // The rack inside the house, 1.5 m behind its south wall: run A5 leads from it straight to L6, through the passage.
    const job = await world.exampleWith([
      { op: 'replace', path: '/racks/R1/position', value: [18, 22] },
      { op: 'add', path: '/passages', value: { W1: { position: [15.43, 20.5], inside_diameter: '50 mm' } } },
    ]);
    const page = await world.person('Ada');
    await world.open(page, job, 'site');
    await settled(page);
    await still(page);
    await page.getByText(/^Passages through walls/).click();
    await page.getByRole('button', { name: /^W1/ }).click();
    const out = page.getByRole('button', { name: 'Take out W1' });
    await out.click();
    const asked = page.getByRole('dialog');
    await asked.getByText(/^Run A5 of line A goes through it into Guesthouse/).waitFor();
    await asked.getByRole('button').last().click();
    expect((await documentOf(job)).passages!.W1).toBeDefined();
    await out.click();
    await asked.getByRole('button', { name: 'Take it out' }).click();
    await page.getByText('Took out W1.').waitFor();
    expect((await documentOf(job)).passages?.W1).toBeUndefined();
    expect(world.complaints).toEqual([]);
  });
});
