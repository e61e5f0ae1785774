/** A job with nothing in it yet: what is missing is said, and nothing is painted. */
import { afterAll, afterEach, beforeAll, describe, expect, it } from 'vitest';
import { settled, World } from './world';

const world = new World();
beforeAll(() => world.start());
afterEach(() => world.leave());
afterAll(() => world.stop());

const coloured = (page: import('playwright-core').Page) =>
  page.evaluate(() => {
    const canvas = document.querySelector<HTMLCanvasElement>('canvas.field')!;
    if (!canvas.width || !canvas.height) return 0;
    const { data } = canvas.getContext('2d')!.getImageData(0, 0, canvas.width, canvas.height);
    return data.filter((v, i) => i % 4 === 3 && v > 0).length;
  });

describe('an empty job', () => {
  it('says what is missing to begin, with the way there', async () => {
    const job = await world.job('empty', 'Bare');
    const page = await world.person('Ada');
    await world.open(page, job, 'brief');
    await settled(page);
    const findings = page.getByRole('region', { name: 'Findings' });
    await findings.getByText('4 warnings').waitFor();
    expect(await findings.innerText()).not.toMatch(/Nothing wants attention/);
    await findings.getByRole('button', { expanded: false }).click();
    const told = await findings.innerText();
    for (const part of ['what is played', 'no listening area', 'no rack', 'No loudspeaker stands yet'])
      expect(told).toContain(part);
    await findings
      .getByRole('listitem')
      .filter({ hasText: 'no listening area' })
      .getByRole('button', { name: 'Go to Site' })
      .click();
    await page.getByRole('toolbar', { name: 'Drawing tools' }).waitFor();
    expect(world.complaints).toEqual([]);
  });

  it('shows no map and no legend on Sound, but what to do next, step by step', async () => {
    const job = await world.job('empty', 'Silent');
    const page = await world.person('Ada');
    await world.open(page, job, 'sound');
    const card = page.getByRole('status').filter({ hasText: 'Nothing sounds yet.' });
    await card.waitFor();
    expect(await card.innerText()).toContain('Draw where people listen');
    const edit = async (n: number, patch: unknown) => {
      const { revision } = await world.read<{ revision: number }>(`/jobs/${job}`);
      const sent = await fetch(`${world.base}/api/jobs/${job}/edits`, {
        method: 'POST',
        headers: { 'content-type': 'application/json' },
        body: JSON.stringify({ edit_id: `begin-${n}-of-${job}`, base_revision: revision, patch, who: 'Ben' }),
      });
      expect(sent.status, await sent.text()).toBe(200);
    };
    const outline = [
      [0, 0],
      [12, 0],
      [12, 8],
      [0, 8],
    ];
    await edit(1, [
      { op: 'add', path: '/areas', value: { lawn: { outline, target: '65 dBA' } } },
      { op: 'add', path: '/programmes', value: { music: { name: 'Music' } } },
    ]);
    await card.getByText('Have a design proposed').waitFor();
    await page.waitForTimeout(700);
    expect(await page.locator('.legend').count()).toBe(0);
    expect(await coloured(page)).toBe(0);
    expect(await page.getByText('Looking the job over').count()).toBe(0);
    await card.getByRole('button', { name: 'Place by hand' }).click();
    await page.getByRole('tab', { name: 'Place', selected: true }).waitFor();
    expect(world.complaints).toEqual([]);
  });

  it('the check sees a map that is there', async () => {
    const job = await world.job('example');
    const page = await world.person('Ada');
    await world.open(page, job, 'sound');
    await page.locator('.legend').waitFor();
    await settled(page);
    expect(await coloured(page)).toBeGreaterThan(100);
    expect(await page.getByText('Nothing sounds yet').count()).toBe(0);
  });
});
