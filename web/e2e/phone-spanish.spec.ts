/** A crew that reads Spanish, of an office that reads English: the phone's pages, what explains a reading, the order of work. */
import type { Page } from 'playwright-core';
import { afterAll, afterEach, beforeAll, expect, it } from 'vitest';
import { World } from './world';

const world = new World();
beforeAll(() => world.start());
afterEach(() => world.leave());
afterAll(() => world.stop());

const phone = () => world.person('Ada', { viewport: { width: 360, height: 740 } });
async function open(page: Page, job: string, at: string) {
  await page.goto(`${world.base}/#along/${job}/${at}`);
  await page.getByRole('navigation', { name: 'Páginas' }).waitFor();
}

/** Words of the pages as they are in English: none of them may be left. */
const ENGLISH =
  /\b(?:to do|all done|Measure|Work|Papers|Years|Enter|Visit of|Line [A-Z]|likely|looking away|joins?|Photo of|Cable runs|Faces)\b/;

it('measures, ticks and reads in Spanish, and the log stays English', async () => {
  const job = await world.exampleWith([{ op: 'add', path: '/job/crew_language', value: 'es' }]);
  const page = await phone();
  await open(page, job, 'measure/A');
  expect(await page.evaluate(() => document.documentElement.lang)).toBe('es');
  await page.getByText('Línea A: ¿qué marca el instrumento?').waitFor();
  // One of the two branches that line A has is gone, cut in its first run (`loamline locate` ranks that first).
  await page.getByRole('button', { name: 'CC', exact: true }).click();
  await page.locator('[data-field=reading]').fill('16.9');
  await page.getByRole('button', { name: 'Anotar', exact: true }).click();
  await page.locator('[data-verdict="bad"]').getByText('mala', { exact: true }).waitFor();
  const ranked = page.locator('[data-ranking="A"]');
  await ranked.getByRole('heading', { name: 'Línea A: mala' }).waitFor();
  await ranked
    .getByText(/^Tramo A\d+ \(.+ a .+, [\d.]+ m de cable .+\) está abierto: cortado/)
    .first()
    .waitFor();
  await ranked.getByText('Medir ahora:').waitFor();

  for (const tab of ['measure/A', 'work', 'work/L2', 'papers', 'years']) {
    await open(page, job, tab);
    await page.locator('#main').getByText(/./).first().waitFor();
    expect(await page.locator('#main').innerText(), tab).not.toMatch(ENGLISH);
  }

  await open(page, job, 'work');
  await page.getByText('4. Cargar y confirmar los ajustes').click();
  const step = page.getByRole('checkbox', { name: /^Compruebe que no hay nada conectado/ });
  await step.click();
  await expect.poll(() => step.getAttribute('aria-checked')).toBe('true');

  // The office reads its own language: the log, and the page of visits.
  await page.getByText('todo enviado').first().waitFor();
  const log = await world.read<{ note: string }[]>(`/jobs/${job}/history?limit=10`);
  const notes = log.map((entry) => entry.note);
  expect(notes).toContain('Reading of line A');
  expect(notes.some((note) => note.startsWith('Tick: Check that nothing is connected'))).toBe(true);
  expect(world.complaints).toEqual([]);
});
