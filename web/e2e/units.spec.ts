/** A job tells its units to everybody who opens it; and the key says what the symbols of its plan are. */
import { afterAll, afterEach, beforeAll, describe, expect, it } from 'vitest';
import { settled, still, World } from './world';

const world = new World();
beforeAll(() => world.start());
afterEach(() => world.leave());
afterAll(() => world.stop());

describe('the units of a job', () => {
  it('are those of whoever opens it only where it says none, and one edit changes them for everybody', async () => {
    const job = await world.job('example');
    const page = await world.person('Ada');
    await world.open(page, job, 'cable');
    await settled(page);
    const cuts = () => page.locator('table td.num').allInnerTexts();
    expect((await cuts()).some((text) => / m$/.test(text))).toBe(true);
    const { revision } = await world.read<{ revision: number }>(`/jobs/${job}`);
    const patch = [{ op: 'add', path: '/job/units', value: 'us' }];
    const made = await fetch(`${world.base}/api/jobs/${job}/edits`, {
      method: 'POST',
      headers: { 'content-type': 'application/json' },
      body: JSON.stringify({
        edit_id: crypto.randomUUID(),
        base_revision: revision,
        patch,
        who: 'Bea',
        note: 'In feet',
      }),
    });
    expect(made.status).toBe(200);
    await expect.poll(async () => (await cuts()).some((text) => /^\d+ ft$/.test(text))).toBe(true);
    expect((await cuts()).some((text) => /\d m$/.test(text))).toBe(false);
    // What was chosen in this browser stays, for jobs that say nothing.
    expect(await page.evaluate(() => JSON.parse(localStorage.getItem('loamline') ?? '{}').unit ?? 'm')).toBe(
      'm',
    );
    expect(world.complaints).toEqual([]);
  });
});

describe('the key to the plan', () => {
  it('tells the symbols that are on it, and buried services by their letter', async () => {
    const job = await world.job('example');
    const page = await world.person('Ada');
    await world.open(page, job, 'site');
    await still(page);
    const drawn = await page
      .locator('svg.things [data-symbol]')
      .evaluateAll((all) => [...new Set(all.map((e) => e.getAttribute('data-symbol')!))]);
    expect(drawn.length).toBeGreaterThan(3);
    await page.getByRole('button', { name: 'Key to the plan' }).click();
    const key = page.getByRole('dialog', { name: 'Key to the plan' });
    const told = await key
      .locator('[data-symbol]')
      .evaluateAll((all) => all.map((e) => e.getAttribute('data-symbol')!));
    expect([...told].sort()).toEqual([...drawn].sort());
    const { resolved } = await world.read<{ resolved: { services: Record<string, { kind: string }> } }>(
      `/jobs/${job}`,
    );
    const kinds = [...new Set(Object.values(resolved.services).map((s) => s.kind))];
    expect(kinds.length).toBeGreaterThan(0);
    for (const kind of kinds) await key.getByText(`buried: ${kind}`).waitFor();
    await page.keyboard.press('Escape');
    await key.waitFor({ state: 'detached' });
    expect(world.complaints).toEqual([]);
  });
});
