/** What is told stands where it is seen, and hides nothing that is looked at. */
import type { Locator } from 'playwright-core';
import { afterAll, afterEach, beforeAll, describe, expect, it } from 'vitest';
import { Hand } from './sketch';
import { settled, still, World } from './world';

const world = new World();
beforeAll(() => world.start());
afterEach(() => world.leave());
afterAll(() => world.stop());

describe('findings', () => {
  it('open beside the plan: nothing of it is covered or moved, and Escape closes them', async () => {
    // Without a programme there is always something to tell.
    const job = await world.job('empty', 'Bare');
    const page = await world.person('Ada');
    await world.open(page, job, 'site');
    await settled(page);
    const before = await still(page);
    const plan = (await page.locator('.plan[role=application]').boundingBox())!;
    const findings = page.getByRole('region', { name: 'Findings' });
    await findings.getByRole('button', { expanded: false }).click();
    const list = (await findings.getByRole('list').boundingBox())!;
    expect(list.x).toBeGreaterThanOrEqual(plan.x + plan.width - 1);
    expect(await page.locator('.plan[role=application]').boundingBox()).toEqual(plan);
    expect(await still(page)).toEqual(before);
    await page.keyboard.press('Escape');
    await findings.getByRole('list').waitFor({ state: 'detached' });
    expect(world.complaints).toEqual([]);
  });
});

describe('what was just drawn', () => {
  it('goes by its kind, also after it turned out to be something else', async () => {
    const job = await world.job('empty', 'Kinds');
    const page = await world.person('Ada');
    await world.open(page, job, 'site');
    await still(page);
    const hand = new Hand(page);
    await hand.tool('Rectangle');
    await hand.tool('Surface');
    await hand.kind('lawn');
    await hand.points([4, 4], [9, 9]);
    await hand.saved();
    await page.getByRole('heading', { name: /^Lawn/ }).waitFor();
    await page.getByRole('button', { name: 'Undo: Draw surface Lawn' }).waitFor();
    await page.getByLabel('Ground', { exact: true }).selectOption('gravel');
    await page.getByRole('heading', { name: /^Gravel/ }).waitFor();
    await hand.saved();
    const { document } = await world.read<{ document: { surfaces: Record<string, object> } }>(`/jobs/${job}`);
    expect(Object.values(document.surfaces)).toMatchObject([{ name: 'Gravel', kind: 'gravel' }]);
    expect(world.complaints).toEqual([]);
  });
});

describe('a rack that has a name', () => {
  it('is found by it, and goes by tag and name', async () => {
    const job = await world.job('example');
    const page = await world.person('Ada');
    await world.open(page, job, 'site');
    await still(page);
    await page.keyboard.press('Control+k');
    await page.getByRole('combobox', { name: 'What is to be done' }).waitFor();
    await page.keyboard.type('plant room');
    await page.keyboard.press('Enter');
    await page.getByRole('heading', { name: /^R1 rack: Plant room/ }).waitFor();
    expect(world.complaints).toEqual([]);
  });
});

describe('on paper', () => {
  it.each(['brief', 'site', 'processing'])('%s is whole and dark on pale, without tools', async (at) => {
    const job = await world.job('example');
    const page = await world.person('Ada', { colorScheme: 'dark' });
    await world.open(page, job, at);
    await settled(page);
    const dark = () =>
      page.evaluate(() => {
        const { color } = getComputedStyle(document.querySelector('main h2, main h1')!);
        const [r, g, b] = color.match(/\d+/g)!.map(Number);
        return r! + g! + b! < 3 * 128;
      });
    expect(await dark()).toBe(false);
    await page.emulateMedia({ media: 'print' });
    expect(await dark()).toBe(true);
    for (const gone of [page.getByRole('navigation'), page.getByRole('toolbar')])
      for (const part of await gone.all()) expect(await part.isVisible()).toBe(false);
    // Nothing ends where the window does: what scrolled on the screen goes on over the sheets.
    const [cut, high] = await page.evaluate(() => [
      [...document.querySelectorAll('main, .panel')]
        .filter((e) => e.scrollHeight > e.clientHeight + 1)
        .map((e) => `${e.tagName} ${e.className}: ${e.scrollHeight} px in ${e.clientHeight} px`),
      document.documentElement.scrollHeight,
    ]);
    expect(cut).toEqual([]);
    expect(high).toBeGreaterThan(900);
    expect(world.complaints).toEqual([]);
  });
});

describe('the papers', () => {
  it('of people are listed apart from files for other programs', async () => {
    const job = await world.job('example');
    const page = await world.person('Ada');
    await world.open(page, job, 'papers');
    await page.getByRole('list', { name: 'Papers' }).waitFor();
    await settled(page);
    const files = (name: string) => page.getByRole('list', { name, exact: true }).innerText();
    expect(await files('Papers')).toMatch(/\.pdf/);
    expect(await files('Papers')).not.toMatch(/\.json/);
    expect(await files('For other programs')).toMatch(/\.json/);
    expect(await files('For other programs')).not.toMatch(/\.pdf/);
    expect(world.complaints).toEqual([]);
  });
});

describe('the curves of the processing', () => {
  it('have a key that says what each is, and reads them under the pointer', async () => {
    const job = await world.job('example');
    const page = await world.person('Ada');
    await world.open(page, job, 'processing');
    await settled(page);
    const card = page.getByRole('region', { name: /^Channel / }).first();
    const key = card.getByRole('list', { name: 'Curves' });
    await key.getByText('as set now').waitFor();
    await key.getByText('worked out').waitFor();
    await card.getByRole('img', { name: /^Response of channel/ }).scrollIntoViewIfNeeded();
    const plot = (await card.locator('.plot .u-over').boundingBox())!;
    await page.mouse.move(plot.x + plot.width / 2, plot.y + plot.height / 2);
    await key.getByText(/^at .* k?Hz$/).waitFor();
    await key
      .getByText(/^-?[\d.]+ dB$/)
      .first()
      .waitFor();
    expect(world.complaints).toEqual([]);
  });
});

describe('on the phone', () => {
  it('the likeliest cause is on the screen with the verdict', async () => {
    const job = await world.job('example');
    const page = await world.person('Ada', { viewport: { width: 360, height: 740 } });
    await page.goto(`${world.base}/#along/${job}/measure/B`);
    const reading = page.locator('[data-field=reading]');
    await reading.waitFor();
    await page.getByRole('button', { name: 'open line' }).click();
    await page.locator('[data-verdict="bad"]').waitFor();
    const cause = page.locator('[data-cause]');
    await cause.waitFor();
    await expect
      .poll(async () => {
        const box = (await cause.boundingBox())!;
        return box.y >= 0 && box.y + box.height <= 740;
      })
      .toBe(true);
    expect(world.complaints).toEqual([]);
  });

  it('a tap on the legend, and on what is told of placing, is meant for the plan', async () => {
    const job = await world.job('example');
    const page = await world.person('Ada', { viewport: { width: 360, height: 740 }, hasTouch: true });
    await world.open(page, job, 'sound');
    await page.locator('.legend').waitFor();
    await settled(page);
    const placed = async () => {
      type Job = { document: { loudspeakers: object } };
      return Object.keys((await world.read<Job>(`/jobs/${job}`)).document.loudspeakers).length;
    };
    const before = await placed();
    await page.getByRole('tab', { name: 'Place', exact: true }).tap();
    await page.getByRole('button', { name: /^stake-165-wide/ }).tap();
    await still(page);
    const boxOf = async (part: Locator) => (await part.boundingBox())!;
    const legend = await boxOf(page.locator('.legend'));
    await page.touchscreen.tap(legend.x + 12, legend.y + 12);
    await expect.poll(placed, { timeout: 30_000 }).toBe(before + 1);
    const hint = page.getByRole('status').filter({ hasText: 'Click where stake-165-wide stands' });
    const told = await boxOf(hint);
    // In its margin: what stops the placing is a button in it.
    await page.touchscreen.tap(told.x + told.width - 7, told.y + 7);
    await expect.poll(placed, { timeout: 30_000 }).toBe(before + 2);
    expect(world.complaints).toEqual([]);
  });

  it('no button lies over the plan while something is drawn but those of drawing', async () => {
    const job = await world.job('example');
    const page = await world.person('Ada', { viewport: { width: 360, height: 740 } });
    await world.open(page, job, 'site');
    await still(page);
    const fit = page.getByRole('button', { name: 'Show the whole site' });
    await fit.waitFor();
    await page.getByRole('toolbar').getByRole('button', { name: 'Surface', exact: true }).click();
    await fit.waitFor({ state: 'hidden' });
    expect(world.complaints).toEqual([]);
  });
});
