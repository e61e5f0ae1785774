/** What a hand takes on the plan: areas by their inside, the property by its line, loudspeakers that share a stake. */
import type { Page } from 'playwright-core';
import { afterAll, afterEach, beforeAll, describe, expect, it } from 'vitest';
import { dragTo, onScreen, settled, still, World } from './world';

const world = new World();
beforeAll(() => world.start());
afterEach(() => world.leave());
afterAll(() => world.stop());

type Point = [number, number];
interface Document {
  site?: { outline?: Point[] };
  areas?: Record<string, { outline: Point[] }>;
  walls?: Record<string, { line: Point[]; height: string }>;
  loudspeakers?: Record<string, { position: Point }>;
}
const documentOf = async (job: string) => (await world.read<{ document: Document }>(`/jobs/${job}`)).document;
const chosen = (page: Page, name: string) =>
  page.locator('.panel').getByRole('heading', { name: new RegExp(`^${name}`) });
const saved = (page: Page) => page.locator('header').getByText('saved', { exact: true }).waitFor();

async function clickPlan(page: Page, x: number, y: number, times = 1) {
  const at = await onScreen(page, x, y);
  await page.mouse.click(at.x, at.y, { clickCount: times });
}

describe('on Site', () => {
  it('an area is chosen and moved by its inside, and the property only by its line', async () => {
    const job = await world.job('example');
    const page = await world.person('Ada');
    await world.open(page, job, 'site');
    await still(page);
    const before = await documentOf(job);
    // The middle of the lawn, clear of everything that stands.
    await clickPlan(page, 16, 8);
    await chosen(page, 'Lawn').waitFor();
    await dragTo(page, [16, 8], [17, 9]);
    await page.getByRole('button', { name: 'Undo: Move Lawn' }).waitFor();
    const after = await documentOf(job);
    expect(after.areas!.lawn!.outline[0]).toEqual([10, 5.5]);
    expect(after.site!.outline).toEqual(before.site!.outline);
    // Bare ground belongs to nothing: a drag there moves the plan.
    await clickPlan(page, 33, 1.2);
    await page.locator('.panel').getByRole('heading', { name: 'Site' }).waitFor();
    const lay = await still(page);
    await dragTo(page, [33, 1.2], [34, 2.2]);
    expect((await still(page)).x).not.toBeCloseTo(lay.x, 0);
    expect((await documentOf(job)).site!.outline).toEqual(before.site!.outline);
    // On the north side no wall stands on the boundary.
    await clickPlan(page, 30, 26);
    await chosen(page, 'Outline of the property').waitFor();
    expect(world.complaints).toEqual([]);
  });

  it('a further click in the same place goes on to what lies below', async () => {
    const job = await world.exampleWith([
      {
        op: 'add',
        path: '/surfaces/pond',
        value: {
          kind: 'water',
          outline: [
            [14, 7],
            [18, 7],
            [18, 9],
            [14, 9],
          ],
        },
      },
    ]);
    const page = await world.person('Ada');
    await world.open(page, job, 'site');
    await still(page);
    // What is small is meant before what lies around it.
    await clickPlan(page, 16, 8);
    await chosen(page, 'pond').waitFor();
    await clickPlan(page, 16, 8);
    await chosen(page, 'Lawn').waitFor();
    expect(world.complaints).toEqual([]);
  });

  it('what is chosen is let go of by choosing another page', async () => {
    const job = await world.job('example');
    const page = await world.person('Ada');
    await world.open(page, job, 'site');
    await still(page);
    await clickPlan(page, 16, 8);
    await chosen(page, 'Lawn').waitFor();
    await page
      .getByRole('navigation')
      .getByRole('link', { name: /^Sound/ })
      .click();
    await page.getByRole('tab', { name: 'Levels' }).waitFor();
    // The levels have a heading of that name too; what is chosen can be taken out.
    expect(await page.getByRole('button', { name: 'Take out' }).count()).toBe(0);
    expect(world.complaints).toEqual([]);
  });

  it('a double click ends a wall, and what is said of a refusal goes with the next edit and the next page', async () => {
    const job = await world.job('empty', 'Bare');
    const page = await world.person('Ada');
    await world.open(page, job, 'site');
    await still(page);
    const tool = (name: string) =>
      page.getByRole('toolbar').getByRole('button', { name, exact: true }).click();
    await tool('Wall or hedge');
    await clickPlan(page, 4, 4);
    await clickPlan(page, 9, 4);
    await clickPlan(page, 9, 8, 2);
    await chosen(page, 'Wall').waitFor();
    expect((await documentOf(job)).walls!.wall1!.line).toEqual([
      [4, 4],
      [9, 4],
      [9, 8],
    ]);
    // An area that is dragged over itself is refused; the next thing that is made takes the message back.
    await tool('Listening area');
    for (const [x, y] of [
      [12, 4],
      [20, 4],
      [20, 10],
    ] as const)
      await clickPlan(page, x, y);
    await clickPlan(page, 12, 10, 2);
    await chosen(page, 'Listening area').waitFor();
    const refused = page.getByRole('alert').filter({ hasText: /meet|cross/ });
    await dragTo(page, [20, 10], [10, 6]);
    await refused.waitFor();
    const name = page.getByLabel('Name', { exact: true });
    await name.fill('Lawn');
    await name.press('Enter');
    await page.getByRole('button', { name: 'Undo: Change name of Listening area' }).waitFor();
    await refused.waitFor({ state: 'detached' });
    await dragTo(page, [20, 10], [10, 6]);
    await refused.waitFor();
    await page.getByRole('link', { name: 'Brief' }).click();
    await page.getByRole('heading', { name: 'Means and limits' }).waitFor();
    expect(await refused.count()).toBe(0);
    expect(world.complaints).toEqual([]);
  });

  it('the bar of a tool leaves the whole site to be seen', async () => {
    const job = await world.job('example');
    // Little height: the bars of tool and typing come near each other.
    const page = await world.person('Ada', { viewport: { width: 1100, height: 650 } });
    await world.open(page, job, 'site');
    await still(page);
    await page.getByRole('toolbar').getByRole('button', { name: 'Listening area', exact: true }).click();
    await still(page);
    const bar = (await page.locator('.plan .bar').boundingBox())!;
    const tools = (await page.getByRole('toolbar').boundingBox())!;
    for (const [x, y] of (await documentOf(job)).site!.outline!) {
      const at = await onScreen(page, x, y);
      const covered = (box: typeof bar) =>
        at.x > box.x && at.x < box.x + box.width && at.y > box.y && at.y < box.y + box.height;
      expect([x, y, covered(bar), covered(tools)]).toEqual([x, y, false, false]);
    }
    expect(world.complaints).toEqual([]);
  });

  it('what is drawn at 50 ft reads 50 ft, and begins with heights in feet', async () => {
    const job = await world.job('empty', 'Feet');
    const page = await world.person('Ada');
    await page.addInitScript(() =>
      localStorage.setItem('loamline', JSON.stringify({ name: 'Ada', unit: 'ft' })),
    );
    await world.open(page, job, 'site');
    await still(page);
    await page.getByRole('toolbar').getByRole('button', { name: 'Wall or hedge', exact: true }).click();
    // A hand is some way off; 1 ft is 0.3048 m.
    await clickPlan(page, 10 * 0.3048 + 0.02, 10 * 0.3048 - 0.02);
    await clickPlan(page, 60 * 0.3048 - 0.02, 10 * 0.3048, 2);
    await chosen(page, 'Wall').waitFor();
    await page.locator('.panel').getByText('50 ft long').waitFor();
    expect((await documentOf(job)).walls!.wall1!.height).toMatch(/ ft$/);
    expect(world.complaints).toEqual([]);
  });
});

describe('two loudspeakers on one stake', () => {
  const SHARED = [{ op: 'replace', path: '/loudspeakers/L3/position', value: [10.8, 13.9] }];

  it('are taken one after the other, moved together, and parted', async () => {
    const job = await world.exampleWith(SHARED);
    const page = await world.person('Ada');
    await world.open(page, job, 'sound');
    await settled(page);
    await still(page);
    await page.locator('.labels').getByText('L2 + L3', { exact: true }).waitFor({ state: 'attached' });
    await clickPlan(page, 10.8, 13.9);
    await chosen(page, 'L3').waitFor();
    await page.waitForTimeout(600);
    await clickPlan(page, 10.8, 13.9);
    await chosen(page, 'L2').waitFor();
    await page.locator('.panel').getByText('L2 shares its stake with L3').waitFor();
    const places = async () => {
      const { loudspeakers } = await documentOf(job);
      return [loudspeakers!.L2!.position, loudspeakers!.L3!.position];
    };
    // The one that is chosen is taken hold of, and the other goes along.
    await dragTo(page, [10.8, 13.9], [11.8, 12.9]);
    await page.getByRole('button', { name: 'Undo: Move L2' }).waitFor();
    expect(await places()).toEqual([
      [11.8, 12.9],
      [11.8, 12.9],
    ]);
    await page.keyboard.down('Alt');
    await dragTo(page, [11.8, 12.9], [12.8, 12.9]);
    await page.keyboard.up('Alt');
    await saved(page);
    await expect.poll(places).toEqual([
      [12.8, 12.9],
      [11.8, 12.9],
    ]);
    await page.getByRole('button', { name: 'Undo: Move L2' }).click();
    await expect.poll(places).toEqual([
      [11.8, 12.9],
      [11.8, 12.9],
    ]);
    await page.getByRole('button', { name: 'Give L2 a stake of its own' }).click();
    await page.getByRole('button', { name: 'Undo: Give L2 a stake of its own' }).waitFor();
    // L2 faces north: its right is east.
    expect(await places()).toEqual([
      [12.1, 12.9],
      [11.8, 12.9],
    ]);
    expect(await page.getByText('shares its stake').count()).toBe(0);
    expect(world.complaints).toEqual([]);
  });

  it('are taken one after the other on the other plans too', async () => {
    const job = await world.exampleWith(SHARED);
    const page = await world.person('Ada');
    for (const at of ['site', 'cable']) {
      await world.open(page, job, at);
      await settled(page);
      await still(page);
      await clickPlan(page, 10.8, 13.9);
      await chosen(page, 'L3').waitFor();
      await clickPlan(page, 10.8, 13.9);
      await chosen(page, 'L2').waitFor();
    }
    expect(world.complaints).toEqual([]);
  });
});
