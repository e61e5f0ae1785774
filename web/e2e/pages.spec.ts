import { afterAll, afterEach, beforeAll, describe, expect, it } from 'vitest';
import { World } from './world';

const world = new World();
let job = '';
beforeAll(async () => {
  await world.start();
  job = await world.job('example');
});
afterEach(() => world.leave());
afterAll(() => world.stop());

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
