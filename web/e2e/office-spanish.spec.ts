/** An office that reads Spanish: the plan, its panel and everything under Sound; the log of the job stays English. */
import type { Page } from 'playwright-core';
import { afterAll, afterEach, beforeAll, expect, it } from 'vitest';
import { settled, World } from './world';

const world = new World();
beforeAll(() => world.start());
afterEach(() => world.leave());
afterAll(() => world.stop());

const panel = (page: Page) => page.locator('#panel-of-the-page');

/** Words of these pages as they are in English: none of them may be left. */
const ENGLISH =
  /\b(?:Everything drawn|Photos|Plan underneath|Asked for here|wanted|Mean level|Spread|Catalogue|Choose|Click|Middle of|Contours|Third octave|Varies by|Least cost|Propose|Pinned|Listening areas?|Neighbours|Show the)\b/;

it('draws and listens in Spanish, and the log stays English', async () => {
  const job = await world.exampleWith([{ op: 'add', path: '/job/language', value: 'es' }]);
  const page = await world.person('Ada');
  await world.open(page, job, 'site');
  await page.getByRole('toolbar', { name: 'Herramientas de dibujo' }).waitFor();
  expect(await page.evaluate(() => document.documentElement.lang)).toBe('es');
  await page.getByRole('button', { name: 'Área de escucha', exact: true }).waitFor();
  await panel(page).getByRole('heading', { name: 'Todo lo dibujado' }).waitFor();
  expect(await panel(page).innerText()).not.toMatch(ENGLISH);

  const { resolved } = await world.read<{ resolved: { areas: Record<string, { name: string }> } }>(
    `/jobs/${job}`,
  );
  const [{ name }] = Object.values(resolved.areas) as [{ name: string }];
  await panel(page).locator('button.thing', { hasText: name }).first().click();
  const target = page.getByLabel('Nivel pedido', { exact: true });
  await target.fill('66 dBA');
  await target.blur();
  const notes = async () =>
    (await world.read<{ note: string }[]>(`/jobs/${job}/history?limit=5`)).map((entry) => entry.note);
  await expect.poll(notes).toContain(`Change level wanted of ${name}`);

  await world.open(page, job, 'sound');
  await settled(page);
  for (const tab of ['Niveles', 'Colocación', 'En un lugar', 'Graves', 'Proponer']) {
    await page.getByRole('tab', { name: tab, exact: true }).click();
    expect(await panel(page).innerText(), tab).not.toMatch(ENGLISH);
  }
  expect(world.complaints).toEqual([]);
});
