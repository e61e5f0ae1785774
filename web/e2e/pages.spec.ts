import { readFileSync } from 'node:fs';
import { createRequire } from 'node:module';
import { afterAll, afterEach, beforeAll, describe, expect, it } from 'vitest';
import type { AxeResults } from 'axe-core';
import { World } from './world';

const axe = readFileSync(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8');
const PAGES = ['brief', 'site', 'sound', 'cable', 'processing', 'papers', 'visits'];
const world = new World();
let job = '';
beforeAll(async () => {
  await world.start();
  job = await world.job('example');
});
afterEach(() => world.leave());
afterAll(() => world.stop());

describe.each([
  [360, 'light'],
  [360, 'dark'],
  [768, 'light'],
  [1440, 'light'],
  [1440, 'dark'],
] as const)('at %d px, %s', (width, colorScheme) => {
  it('no page scrolls sideways, and axe-core finds no serious issue', async () => {
    const page = await world.person('Ada', {
      viewport: { width, height: 800 },
      colorScheme,
      bypassCSP: true,
    });
    for (const name of [...PAGES, 'jobs']) {
      if (name === 'jobs') {
        await page.goto(`${world.base}/#/`);
        await page.getByRole('heading', { name: 'Jobs on this machine' }).waitFor();
      } else await world.open(page, job, name);
      await page.waitForTimeout(700);
      const over = await page.evaluate(() => document.documentElement.scrollWidth - innerWidth);
      expect(over, `${name} is wider than the screen`).toBeLessThanOrEqual(0);
      await page.evaluate(axe);
      const { violations } = await page.evaluate(() =>
        (window as unknown as { axe: { run(): Promise<AxeResults> } }).axe.run(),
      );
      const serious = violations
        .filter((v) => v.impact === 'serious' || v.impact === 'critical')
        .map(
          (v) =>
            `${name}: ${v.id}: ${v.nodes
              .slice(0, 3)
              .map((n) => `${n.html} ${n.any[0]?.message ?? ''}`)
              .join(' | ')}`,
        );
      expect(serious).toEqual([]);
    }
    await page.context().close();
    expect(world.complaints).toEqual([]);
  });
});

describe('the accessibility check', () => {
  it('finds a fault that is there', async () => {
    const page = await world.person('Ada', { bypassCSP: true });
    await world.open(page, job, 'brief');
    await page.evaluate(() => document.querySelector('main')!.append(document.createElement('input')));
    await page.evaluate(axe);
    const { violations } = await page.evaluate(() =>
      (window as unknown as { axe: { run(): Promise<AxeResults> } }).axe.run(),
    );
    expect(violations.map((v) => v.id)).toContain('label');
  });
});

describe('by keyboard alone', () => {
  it('a loudspeaker is found, moved and turned', async () => {
    const page = await world.person('Ada');
    await world.open(page, job, 'sound');
    await page.getByRole('tab', { name: 'Levels' }).focus();
    await page.keyboard.press('ArrowRight');
    await page.getByRole('button', { name: 'L9, stake-165-wide' }).focus();
    await page.keyboard.press('Enter');
    await page.locator('.plan[role="application"]').focus();
    await page.keyboard.press('Shift+ArrowLeft');
    await page.getByText('saved').waitFor();
    await page.keyboard.press('.');
    await page.waitForFunction(async (id) => {
      const { document } = await (await fetch(`/api/jobs/${id}`)).json();
      const l = document.loudspeakers.L9;
      return Math.abs(l.position[0] - 21) < 1e-9 && l.bearing === 355;
    }, job);
  });
});

describe('what is refused', () => {
  it('is said beside its field, nothing is lost', async () => {
    const page = await world.person('Ada');
    await world.open(page, job, 'brief');
    const field = page.getByLabel('Turned down at night by');
    await field.fill('loud');
    await field.press('Tab');
    const problem = page.locator('.field', { has: field }).getByRole('alert');
    await problem.waitFor();
    expect(await problem.innerText()).toMatch(/level/);
    expect(await field.inputValue()).toBe('loud');
    expect(await field.getAttribute('aria-invalid')).toBe('true');
    await field.fill('10');
    await field.press('Enter');
    await page.waitForFunction(async (id) => {
      const { document } = await (await fetch(`/api/jobs/${id}`)).json();
      return document.brief.night_turn_down === '10 dB';
    }, job);
    await problem.waitFor({ state: 'detached' });
  });
});
