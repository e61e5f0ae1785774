import { readFileSync } from 'node:fs';
import { createRequire } from 'node:module';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import type { AxeResults } from 'axe-core';
import { World } from '../world';
import { Phone } from './phone';

const axe = readFileSync(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8');
const world = new World();
beforeAll(() => world.serve());
afterAll(() => world.stop());

describe('with the processor slowed four times', () => {
  it('the first ranking is there within 100 ms', async () => {
    const job = await world.job('example');
    const phone = new Phone(world.base, 'Ada');
    await phone.start();
    await phone.take(job);
    // As on any other day: the job was taken along before, the app is opened anew, out of reach. Three times over, since
    // others use the machine of a check as well.
    await phone.offline(true);
    const cdp = await phone.cdp();
    const first: number[] = [];
    for (let n = 0; n < 3; n++) {
      await cdp.send('Emulation.setCPUThrottlingRate', { rate: 1 });
      await phone.page.reload();
      await phone.page.getByLabel('The meter reads').waitFor();
      await phone.page.waitForTimeout(1500);
      await cdp.send('Emulation.setCPUThrottlingRate', { rate: 4 });
      await phone.reading(9.1 + n / 10);
      await phone.until(n + 1);
      await phone.page.locator('[data-ranking] li').first().waitFor();
      await phone.page.waitForTimeout(300);
      const took = await phone.page.evaluate(() =>
        performance.getEntriesByName('reading to ranking').map((e) => e.duration),
      );
      expect(took).toHaveLength(1);
      first.push(took[0]!);
    }
    first.sort((a, b) => a - b);
    console.log(
      `reading to ranking painted, processor slowed four times, first after opening: ${first.map((t) => t.toFixed(0)).join(', ')} ms`,
    );
    expect(first[0]!).toBeLessThan(100);
    expect(phone.complaints).toEqual([]);
    await phone.stop();
  }, 120_000);
});

describe('at 360 px', () => {
  it('no page scrolls sideways, targets are large, axe-core finds no serious issue', async () => {
    const job = await world.job('example');
    const phone = new Phone(world.base, 'Ada');
    await phone.start();
    await phone.take(job);
    await phone.reading(9.1);
    const pages = ['measure', 'work', 'work/L1', 'work/J1', 'plan', 'papers', 'years'];
    for (const at of pages) {
      const [tab, thing] = at.split('/') as [string, string | undefined];
      await phone.open(job, tab, thing);
      await phone.page.waitForTimeout(500);
      const { page } = phone;
      expect(
        await page.evaluate(() => document.documentElement.scrollWidth - innerWidth),
        at,
      ).toBeLessThanOrEqual(0);
      const small = await page.evaluate(() =>
        [
          ...document.querySelectorAll<HTMLElement>(
            'main button, main a.button, main input:not(.hidden), main select, nav a',
          ),
        ]
          .filter(
            (e) =>
              e.offsetParent !== null &&
              !e.classList.contains('link') &&
              e.getBoundingClientRect().height < 43.5,
          )
          .map((e) => `${e.outerHTML.slice(0, 90)} ${e.getBoundingClientRect().height}`),
      );
      expect(small, at).toEqual([]);
      const { violations } = await withAxe(phone);
      const serious = violations.filter((v) => v.impact === 'serious' || v.impact === 'critical');
      expect(serious.map((v) => `${at}: ${v.id}: ${v.nodes[0]?.html}`)).toEqual([]);
    }
    expect(phone.complaints).toEqual([]);
    await phone.stop();
  }, 120_000);
});

/** axe-core through the debugger, which the content policy does not concern. */
async function withAxe(phone: Phone): Promise<AxeResults> {
  const cdp = await phone.cdp();
  await cdp.send('Runtime.evaluate', { expression: axe });
  const { result } = await cdp.send('Runtime.evaluate', {
    expression: 'axe.run()',
    awaitPromise: true,
    returnByValue: true,
  });
  return result.value as AxeResults;
}
