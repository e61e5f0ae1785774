import { afterAll, beforeAll, expect, it } from 'vitest';
import { World } from '../world';
import { Phone } from './phone';

const world = new World();
beforeAll(() => world.serve());
afterAll(() => world.stop());

it('a double tap takes one reading and finds fault with nothing', async () => {
  const job = await world.job('example');
  const phone = new Phone(world.base, 'Ada');
  await phone.start();
  await phone.take(job);
  const { page } = phone;
  await page.locator('[data-field=reading]').fill('14.3');
  await page.getByRole('button', { name: 'Enter', exact: true }).dblclick();
  await page.locator('.verdict[data-verdict]').waitFor();
  await phone.until(0);
  await page.waitForTimeout(500);
  expect(await page.locator('[data-field=reading]').getAttribute('aria-invalid')).toBe('false');
  expect(await page.getByText('What the meter shows, as a number').count()).toBe(0);
  const { document } = await world.read<{ document: { visits: Record<string, { readings?: object }> } }>(
    `/jobs/${job}`,
  );
  const before = await world.read<{ document: { visits?: Record<string, { readings?: object }> } }>(
    `/jobs/${await world.job('example')}`,
  );
  const count = (visits: Record<string, { readings?: object }> = {}) =>
    Object.values(visits).reduce((n, v) => n + Object.keys(v.readings ?? {}).length, 0);
  expect(count(document.visits)).toBe(count(before.document.visits) + 1);
  // Somebody who enters nothing is told what is wanted.
  await page.waitForTimeout(1600);
  await page.getByRole('button', { name: 'Enter', exact: true }).click();
  await page.getByText('What the meter shows, as a number').waitFor();
  expect(phone.complaints).toEqual([]);
  await phone.stop();
}, 120_000);
