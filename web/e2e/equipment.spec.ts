/** Equipment and firm in the app: looked through, compared, entered, brought in, taken out; what stands on every paper. */
import type { Locator } from 'playwright-core';
import { afterAll, afterEach, beforeAll, describe, expect, it } from 'vitest';
import { serious, tooLow, tooSmall, tooWide } from './looks';
import { png } from './png';
import { settled, World } from './world';

const world = new World();
beforeAll(() => world.start());
afterEach(() => world.leave());
afterAll(() => world.stop());

interface Model {
  description: string;
  price: string;
  labour: number;
  mass: number | null;
  sensitivity: number;
  response: [number, number][];
}
const catalogue = async (job: string) =>
  (await world.read<{ loudspeakers: Record<string, Model> }>(`/jobs/${job}/catalogue`)).loudspeakers;

/** Somebody else makes a loudspeaker one of another model. */
async function become(job: string, tag: string, model: string) {
  const { revision } = await world.read<{ revision: number }>(`/jobs/${job}`);
  const patch = [{ op: 'replace', path: `/loudspeakers/${tag}/model`, value: model }];
  const edit = {
    edit_id: crypto.randomUUID(),
    base_revision: revision,
    patch,
    who: 'Bea',
    note: 'Another model',
  };
  const response = await fetch(`${world.base}/api/jobs/${job}/edits`, {
    method: 'POST',
    headers: { 'content-type': 'application/json' },
    body: JSON.stringify(edit),
  });
  expect(response.status, await response.text()).toBe(200);
}

describe('the equipment', () => {
  it('is searched, and two models are compared by figures and curves', async () => {
    const job = await world.job('example');
    const page = await world.person('Ada');
    await world.open(page, job, 'sound');
    await page.getByRole('tab', { name: 'Place', exact: true }).click();
    await page.getByRole('link', { name: 'Compare models, or bring in your own' }).click();
    await page.getByRole('heading', { name: 'Equipment' }).waitFor();
    const models = await catalogue(job);
    const rows = page.locator('li.card');
    await expect.poll(() => rows.count()).toBe(Object.keys(models).length);
    const [first, second] = Object.keys(models).filter((id) => id.startsWith('stake')) as [string, string];
    await page.getByRole('searchbox', { name: 'Search the equipment' }).fill('stake');
    await expect
      .poll(() => rows.count())
      .toBe(
        Object.entries(models).filter(([id, m]) => `${id} ${m.description}`.toLowerCase().includes('stake'))
          .length,
      );
    await page.getByLabel(`Compare ${first}`).check();
    await page.getByLabel(`Compare ${second}`).check();
    const side = page.getByRole('region', { name: 'Side by side', exact: true });
    for (const id of [first, second]) {
      await side.getByRole('columnheader', { name: id }).waitFor();
      await side
        .getByRole('cell', { name: `${models[id]!.sensitivity} dB`, exact: true })
        .first()
        .waitFor();
    }
    await side.getByRole('img', { name: `Response on axis of ${first}, ${second}` }).waitFor();
    await side.getByRole('img', { name: `Coverage from side to side of ${first}, ${second}` }).waitFor();
    expect(world.complaints).toEqual([]);
  });

  it('far down in the list shows what was ticked there, and leads to the comparison', async () => {
    const job = await world.job('example');
    const page = await world.person('Ada');
    await world.open(page, job, 'equipment');
    const rows = page.locator('li.card');
    await expect.poll(() => rows.count()).toBe(Object.keys(await catalogue(job)).length);
    const seen = async (part: Locator) => {
      const box = (await part.boundingBox())!;
      return box.y >= 0 && box.y + Math.min(box.height, 100) <= 900;
    };
    const ticks = rows.getByRole('checkbox');
    const side = page.getByRole('region', { name: 'Side by side', exact: true });
    await ticks.last().check();
    const asked = page.getByText('tick a second one to compare it with.');
    await asked.waitFor();
    await expect.poll(() => seen(asked)).toBe(true);
    expect(await seen(side)).toBe(false);
    await ticks.nth((await ticks.count()) - 2).check();
    const lead = page.getByRole('button', { name: 'Show figures and curves' });
    await expect.poll(() => seen(lead)).toBe(true);
    await lead.click();
    await expect.poll(() => seen(side)).toBe(true);
    expect(await side.getByRole('columnheader').count()).toBe(3);
    expect(world.complaints).toEqual([]);
  });

  it("of one's own is made of another, used, and taken out once nothing uses it", async () => {
    const job = await world.job('example');
    const page = await world.person('Ada');
    await world.open(page, job, 'equipment');
    const before = await catalogue(job);
    const [id, model] = Object.entries(before)[0]!;
    await page.getByRole('button', { name: `Own model of it: ${id}` }).click();
    const form = page.getByRole('dialog');
    await form.getByLabel('Name of the model').fill('ours-1');
    await form.getByLabel('What it is, for the papers').fill('Our own');
    // What cannot be is said beside its box, and nothing is kept.
    await form.getByLabel('Sensitivity, 1 W at 1 m').fill('20');
    await form.getByRole('button', { name: 'Keep the loudspeaker' }).click();
    await form.getByRole('alert').getByText('60').waitFor();
    expect(Object.keys(await catalogue(job))).not.toContain('ours-1');
    await form.getByLabel('Sensitivity, 1 W at 1 m').fill('88.5');
    await form.getByLabel('Price', { exact: true }).fill('123.40');
    // A figure alone is in the unit that stands beside it: 25 min are 1500 s, 2.7 kg are 2.7 kg.
    const labour = form.getByLabel('Labour to put it up');
    expect(await labour.inputValue()).toMatch(/ (min|h|s)$/);
    await form.getByText('a figure alone is in min').first().waitFor();
    await labour.fill('25');
    await form.getByLabel('Mass', { exact: true }).fill('2.7');
    await form.getByRole('button', { name: 'Keep the loudspeaker' }).click();
    await form.waitFor({ state: 'detached' });
    const row = page.locator('li.card').filter({ hasText: 'ours-1' });
    await row.getByText("the job's own").waitFor();
    const own = (await catalogue(job))['ours-1']!;
    expect(own).toMatchObject({ description: 'Our own', sensitivity: 88.5, response: model.response });
    expect(Number(own.price)).toBe(123.4);
    expect([own.labour, own.mass]).toEqual([1500, 2.7]);

    // Something of the job becomes one of it: then it stays.
    const { document } = await world.read<{ document: { loudspeakers: Record<string, { model: string }> } }>(
      `/jobs/${job}`,
    );
    const [tag, { model: was }] = Object.entries(document.loudspeakers)[0]!;
    await become(job, tag, 'ours-1');
    await row.getByText(`Used: ${tag}`).waitFor();
    expect(await row.getByRole('button', { name: 'Take out ours-1', exact: true }).isDisabled()).toBe(true);
    await become(job, tag, was);
    await row.getByText(`Used: ${tag}`).waitFor({ state: 'detached' });
    await row.getByRole('button', { name: 'Take out ours-1', exact: true }).click();
    await row.waitFor({ state: 'detached' });
    expect(Object.keys(await catalogue(job))).toEqual(Object.keys(before));
    expect(world.complaints).toEqual([]);
  });

  it('is brought in as a file, which says what is wrong with it first', async () => {
    const job = await world.job('empty', 'Brought in');
    const page = await world.person('Ada');
    await world.open(page, job, 'equipment');
    const file = (text: string) => ({
      name: 'Pipes.toml',
      mimeType: 'application/toml',
      buffer: Buffer.from(text),
    });
    await page
      .getByLabel('Catalogue file')
      .setInputFiles(file('[conduits.ours-25]\ndescription = "25 mm"\n'));
    await page.getByRole('alert').getByText('Pipes.toml').waitFor();
    const good = '[conduits.ours-25]\ndescription = "25 mm"\ninside_diameter = "19 mm"\nprice_per_m = 1.20\n';
    await page.getByLabel('Catalogue file').setInputFiles(file(good));
    await page.getByRole('tab', { name: 'Conduits' }).click();
    await page.locator('li.card').filter({ hasText: 'ours-25' }).waitFor();
    await page.getByRole('button', { name: 'Delete Pipes.toml' }).click();
    await page.locator('li.card').filter({ hasText: 'ours-25' }).waitFor({ state: 'detached' });
    expect(world.complaints).toEqual([]);
  });
});

describe('the firm', () => {
  it('has a letterhead, a logo and prices that stand on the papers', async () => {
    const job = await world.job('example');
    const page = await world.person('Ada');
    await page.goto(`${world.base}/#/`);
    await page.getByRole('link', { name: 'The firm' }).click();
    await page.getByLabel('Name of the firm').fill('Example Gardens');
    await page.getByRole('textbox', { name: /^Letterhead/ }).fill('1 Lane\n01 23');
    await page.getByLabel('Margin on equipment and material').click();
    await page.getByText('Kept.', { exact: true }).waitFor();
    await page.getByLabel('Picture of the logo').setInputFiles({
      name: 'logo.png',
      mimeType: 'image/png',
      buffer: png(60, 20, (x) => x > 30),
    });
    await page.getByRole('img', { name: 'The logo as it is printed' }).waitFor();
    await page.getByLabel('Price of an hour').fill('99');
    await page.getByLabel('Price of an hour').press('Enter');
    await page.getByText('Kept. Papers and proposals are reckoned with it.').waitFor();
    // Other prices have every job looked over again.
    const looked = page.getByRole('region', { name: 'All jobs looked over' });
    await looked
      .getByText(/\d\.\d\d$/)
      .first()
      .waitFor();
    await looked.getByText('to be looked over.').waitFor({ state: 'hidden' });
    const checks = await world.read<{ waiting: number; jobs: { job: string; price: string }[] }>('/checks');
    const price = checks.jobs.find((check) => check.job === job)!.price;
    expect(checks.waiting).toBe(0);
    expect(await looked.getByText(price, { exact: true }).count()).toBeGreaterThan(0);
    const firm = await world.read<{
      profile: { name: string; lines: string[] };
      logo: { size: number };
      prices: string;
    }>('/firm');
    expect(firm.profile).toMatchObject({ name: 'Example Gardens', lines: ['1 Lane', '01 23'] });
    expect(firm.logo.size).toBeGreaterThan(50);
    expect(firm.prices).toBe('code,price\nlabour/hour,99\n');
    // A figure that is none is told, and what was kept stays.
    await page.getByLabel('Tax on the whole').fill('lots');
    await page.getByLabel('Tax on the whole').press('Enter');
    await page.getByRole('alert').getByText('tax').waitFor();
    expect((await world.read<{ prices: string }>('/firm')).prices).toBe('code,price\nlabour/hour,99\n');
    await world.open(page, job, 'papers');
    await settled(page);
    const [data] = await Promise.all([world.read<{ documents: { file: string }[] }>(`/jobs/${job}/papers`)]);
    expect(data.documents.length).toBeGreaterThan(5);
    expect(world.complaints).toEqual([]);
  });

  it.each([360, 1440])('can be read and hit, %d px wide', async (width) => {
    const page = await world.person('Ada', { viewport: { width, height: 800 }, bypassCSP: true });
    await page.goto(`${world.base}/#firm`);
    await page.getByRole('heading', { name: 'Language of the papers' }).waitFor();
    expect(await tooWide(page)).toEqual([]);
    expect(await tooSmall(page, 12)).toEqual([]);
    expect(await tooLow(page, 44)).toEqual([]);
    expect(await serious(page)).toEqual([]);
  });
});
