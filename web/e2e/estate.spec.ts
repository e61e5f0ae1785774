/** A resort of a thousand loudspeakers in the browser, by night: the job file that LOAMLINE_ESTATE names. */
import { readFileSync } from 'node:fs';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { still, World } from './world';
import { zip } from './zip';

const estate = process.env.LOAMLINE_ESTATE;
const world = new World();
const FIRST_MAP_MS = 3000;
const PICTURES_A_SECOND = 30;
const HAND_MS = 5000;
const [IDLE_MB, IDLE_AFTER_MS] = [300, 90_000];

describe.skipIf(!estate)('an estate', () => {
  beforeAll(() => world.start());
  afterAll(() => world.stop());

  it('shows its first map in three seconds and follows a hand at thirty pictures a second', async () => {
    const made = await fetch(`${world.base}/api/jobs/import`, {
      method: 'POST',
      headers: { 'content-type': 'application/zip' },
      body: new Uint8Array(zip('job.toml', readFileSync(estate!))),
    });
    expect(made.status).toBe(201);
    const { id } = (await made.json()) as { id: string };
    const page = await world.person('Ada');
    const began = performance.now();
    await page.goto(`${world.base}/#/${id}/sound`);
    await page.getByRole('img', { name: /^Colours of the map/ }).waitFor();
    const first_ms = performance.now() - began;
    await still(page);
    // One that stands apart from near: the first of the list is brought into sight, and gone near to.
    await page.getByRole('tab', { name: 'Place', exact: true }).click();
    await page.getByRole('region', { name: 'Placed loudspeakers' }).getByRole('button').first().click();
    await still(page);
    const box = (await page.locator('.things .loudspeaker.chosen .touch').boundingBox())!;
    const at = { x: box.x + box.width / 2, y: box.y + box.height / 2 };
    await page.evaluate(() => performance.clearMeasures());
    await page.mouse.move(at.x, at.y);
    await page.mouse.down();
    const start = performance.now();
    for (let i = 1; performance.now() - start < HAND_MS; i++) {
      const turn = (performance.now() - start) / 400;
      await page.mouse.move(at.x + 12 * Math.sin(turn), at.y + 12 * (1 - Math.cos(turn)));
      await new Promise((next) => setTimeout(next, Math.max(0, start + (i * 1000) / 60 - performance.now())));
    }
    await page.mouse.up();
    const pictures = await page.evaluate(() => performance.getEntriesByName('drag to map').length);
    const each_s = pictures / (HAND_MS / 1000);
    console.log(
      `estate: first map after ${first_ms.toFixed(0)} ms, ${each_s.toFixed(1)} pictures a second of a drag`,
    );
    expect(first_ms).toBeLessThan(FIRST_MAP_MS);
    expect(each_s).toBeGreaterThan(PICTURES_A_SECOND);
    expect(world.complaints).toEqual([]);
    // Half a minute after nobody looks at it any more, what was worked out is let go.
    await world.leave();
    const left = performance.now();
    let held_mb = world.memory_mb()!;
    while (held_mb >= IDLE_MB && performance.now() - left < IDLE_AFTER_MS) {
      await new Promise((next) => setTimeout(next, 1000));
      held_mb = world.memory_mb()!;
    }
    console.log(
      `estate: ${held_mb.toFixed(0)} MB held ${((performance.now() - left) / 1000).toFixed(0)} s after the last has gone`,
    );
    expect(held_mb).toBeLessThan(IDLE_MB);
  }, 400_000);
});
