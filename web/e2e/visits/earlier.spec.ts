/** A job that an earlier version of the app took along, before the rules of readings were sent with it. */
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { World } from '../world';
import { Phone } from './phone';

const world = new World();
beforeAll(() => world.serve());
afterAll(() => world.stop());

describe('a job taken along by an earlier version', () => {
  it('opens, keeps what is entered, judges nothing, and is taken along again in reach', async () => {
    const job = await world.job('example');
    const phone = new Phone(world.base, 'Ada');
    await phone.start();
    await phone.take(job);
    const { page } = phone;
    await phone.offline(true);
    await page.evaluate(async (id) => {
      const done = <T>(request: IDBRequest<T>) =>
        new Promise<T>((found, failed) => {
          request.onsuccess = () => found(request.result);
          request.onerror = () => failed(request.error);
        });
      const db = await done(indexedDB.open('loamline'));
      const packs = () => db.transaction('packs', 'readwrite').objectStore('packs');
      const pack = (await done(packs().get(id))) as Record<string, unknown> & {
        expect: Record<string, { runs?: unknown; readings: Record<string, unknown>[] }>;
      };
      delete pack.format;
      delete pack.rules;
      delete pack.readings;
      for (const line of Object.values(pack.expect)) {
        delete line.runs;
        for (const e of line.readings)
          for (const key of ['far_low_ohm', 'far_high_ohm', 'short_ohm']) delete e[key];
      }
      await done(packs().put(pack));
      db.close();
    }, job);
    await page.reload();
    const banner = page.locator('[data-other-version]');
    await banner.getByText('until it is taken along again').waitFor();

    await phone.reading(0.4);
    await phone.until(1);
    await page.locator('p.verdict[data-verdict=none]').getByText('taken down').waitFor();
    await page.getByRole('button', { name: 'open line' }).click();
    await phone.until(2);
    expect(await page.locator('[data-ranking]').count()).toBe(0);
    for (const at of ['work', 'work/L1', 'work/J1', 'plan', 'papers', 'years', 'measure']) {
      const [tab, thing] = at.split('/') as [string, string | undefined];
      await phone.open(job, tab, thing);
      await banner.waitFor();
      await page.waitForTimeout(200);
    }
    expect(phone.complaints).toEqual([]);

    await phone.offline(false);
    await page.evaluate(() => dispatchEvent(new Event('online')));
    await phone.until(0);
    await banner.waitFor({ state: 'detached' });
    await page.locator('[data-reading] .bad').first().waitFor();
    await page.locator('[data-ranking]').waitFor();
    expect(phone.complaints).toEqual([]);
    await phone.stop();
  }, 120_000);
});
