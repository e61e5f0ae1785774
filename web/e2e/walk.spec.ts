import { readFileSync } from 'node:fs';
import type { Page } from 'playwright-core';
import { afterAll, afterEach, beforeAll, describe, expect, it } from 'vitest';
import { onScreen, World } from './world';

const world = new World();
beforeAll(() => world.start());
afterEach(() => world.leave());
afterAll(() => world.stop());

const tool = (page: Page, name: string) =>
  page.getByRole('toolbar').getByRole('button', { name, exact: true }).click();
const saved = (page: Page) => page.locator('header').getByText('saved').waitFor();

async function clickPlan(page: Page, x: number, y: number) {
  const at = await onScreen(page, x, y);
  await page.mouse.click(at.x, at.y);
}

/** Draws with a tool by clicking. */
async function draw(page: Page, name: string, points: [number, number][], finish = true) {
  await tool(page, name);
  for (const [x, y] of points) await clickPlan(page, x, y);
  if (finish) await page.getByRole('button', { name: 'Finish' }).click();
  await saved(page);
}

async function field(page: Page, label: string, value: string) {
  const box = page.getByLabel(label, { exact: true });
  await box.fill(value);
  await box.press('Enter');
  await saved(page);
}

async function drawSite(page: Page) {
  await page.getByRole('navigation').getByRole('link', { name: /^Site/ }).click();
  // The property by typed lengths and bearings from one click.
  await tool(page, 'Property');
  await clickPlan(page, 2, 2);
  for (const [metres, bearing] of [
    ['24 m', '90'],
    ['52 ft 6 in', '0'],
    ['24', '270 deg'],
  ] as const) {
    await page.getByLabel('Length').fill(metres);
    await page.getByLabel('Bearing').fill(bearing);
    await page.getByRole('button', { name: 'Add corner' }).click();
  }
  await page.getByRole('button', { name: 'Finish' }).click();
  await saved(page);
  await page.getByRole('button', { name: 'Show the whole site' }).click();
  await page.waitForTimeout(400);
  const bed: [number, number][] = [
    [4, 4],
    [24, 4],
    [24, 14],
    [4, 14],
  ];
  await draw(page, 'Surface', bed);
  await draw(page, 'Listening area', [
    [6, 6],
    [22, 6],
    [22, 12],
    [6, 12],
  ]);
  await field(page, 'Name', 'Lawn');
  await field(page, 'Level wanted', '66');
  await draw(page, 'Rack', [[3, 9]], false);
  await draw(page, 'Mark', [[2, 2]], false);
}

/** From nothing to a drawn site. */
async function begin(page: Page, name: string) {
  await page.goto(`${world.base}/#/`);
  await page.getByLabel('Name of the place').fill(name);
  await page.getByRole('button', { name: 'Start from nothing' }).click();
  await page.getByRole('heading', { name: 'From nothing to papers' }).waitFor();
  await page.getByRole('heading', { name: 'Background music' }).waitFor();
  await drawSite(page);
}

/** The papers, looked at and taken away. */
async function papers(page: Page) {
  await page
    .getByRole('navigation')
    .getByRole('link', { name: /^Papers/ })
    .click();
  const pdf = page.getByRole('listitem').filter({ hasText: '.pdf' }).first();
  await pdf.waitFor({ timeout: 150_000 });
  await pdf.getByRole('button').click();
  await page.getByRole('img', { name: /page 1 of/ }).waitFor({ timeout: 60_000 });
  const waiting = page.waitForEvent('download');
  await pdf.getByRole('link').click();
  const download = await waiting;
  const bytes = readFileSync((await download.path())!);
  expect(bytes.subarray(0, 5).toString()).toBe('%PDF-');
}

describe('from an empty job', () => {
  it('to papers, loudspeakers placed by hand, in less than ten minutes', async () => {
    const started = Date.now();
    const page = await world.person('Ada');
    await begin(page, 'Quince Yard');
    await page
      .getByRole('navigation')
      .getByRole('link', { name: /^Sound/ })
      .click();
    await page.getByRole('tab', { name: 'Place', exact: true }).click();
    await page.getByRole('button', { name: /^stake-165-wide/ }).click();
    for (const [x, y] of [
      [5, 5],
      [14, 4.8],
      [23, 5],
      [5, 13],
      [14, 13.2],
      [23, 13],
    ] as const) {
      await clickPlan(page, x, y);
      await saved(page);
    }
    await page.getByRole('button', { name: 'Stop placing' }).click();

    await page
      .getByRole('navigation')
      .getByRole('link', { name: /^Cable/ })
      .click();
    await page.getByRole('button', { name: 'Amplifier', exact: true }).click();
    await saved(page);
    await page.getByText(/^Amplifier P1/).waitFor();
    await page.getByRole('button', { name: 'Line', exact: true }).click();
    await page.getByRole('heading', { name: 'Line A' }).waitFor();
    await page.getByRole('button', { name: 'Put on it' }).click();
    await saved(page);
    await page.getByRole('button', { name: 'Route again' }).click();
    await page.getByRole('button', { name: 'Lay it this way' }).click();
    await page.getByRole('table').getByText('L6').first().waitFor();

    const job = /#\/([^/]+)\//.exec(page.url())![1]!;
    const { document } = await world.read<{
      document: Record<string, Record<string, Record<string, unknown>>>;
    }>(`/jobs/${job}`);
    expect(Object.keys(document.loudspeakers!)).toEqual(['L1', 'L2', 'L3', 'L4', 'L5', 'L6']);
    // 52 ft 6 in is 16.002 m: what was typed is what was drawn.
    expect(document.site!.outline).toEqual([
      [2, 2],
      [26, 2],
      [26, 18.002],
      [2, 18.002],
    ]);
    expect(Object.keys(document.lines!.A!.runs as object).length).toBe(6);

    await page
      .getByRole('navigation')
      .getByRole('link', { name: /^Processing/ })
      .click();
    await page.getByRole('button', { name: 'Take over what is worked out' }).click();
    await page.getByRole('button', { name: 'Undo: Take over the processing worked out' }).waitFor();

    await papers(page);
    console.log(
      `from an empty job to a PDF: ${((Date.now() - started) / 1000).toFixed(0)} s without pauses for thought`,
    );
    expect(world.complaints).toEqual([]);
  });

  it('to papers, the design proposed, in less than ten minutes', async () => {
    const started = Date.now();
    const page = await world.person('Ada');
    await begin(page, 'Medlar Close');
    await page
      .getByRole('navigation')
      .getByRole('link', { name: /^Sound/ })
      .click();
    await page.getByRole('tab', { name: 'Propose' }).click();
    await page.getByLabel('Time').selectOption('5');
    await page.getByRole('button', { name: 'Propose', exact: true }).click();
    const card = page.getByRole('region', { name: 'Option 1' });
    await card.waitFor({ timeout: 150_000 });
    await card.getByRole('button', { name: 'Accept' }).click();
    await page.getByRole('button', { name: /^Undo: Accept a proposal/ }).waitFor({ timeout: 60_000 });
    await papers(page);
    const took_s = (Date.now() - started) / 1000;
    console.log(
      `from an empty job by a proposal to a PDF: ${took_s.toFixed(0)} s without pauses for thought`,
    );
    expect(took_s).toBeLessThan(600);
    expect(world.complaints).toEqual([]);
  }, 600_000);
});
