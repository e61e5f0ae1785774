import { afterAll, afterEach, beforeAll, describe, expect, it } from 'vitest';
import { dragTo, World } from './world';

const world = new World();
beforeAll(() => world.start());
afterEach(() => world.leave());
afterAll(() => world.stop());

describe('dragging a loudspeaker', () => {
  it('moves it, and the figures change while the hand moves', async () => {
    const job = await world.job('example');
    const page = await world.person('Ada');
    await world.open(page, job, 'sound');
    const card = page.locator('[data-area="court"]');
    await card.getByText(/dBA/).nth(1).waitFor();
    const before = await card.innerText();
    await dragTo(page, [28.5, 22.6], [27, 22.4]);
    await page.waitForFunction(
      (text) => window.document.querySelector<HTMLElement>('[data-area="court"]')!.innerText !== text,
      before,
    );
    await page.getByText('saved').waitFor();
    const { document } = await world.read<{
      document: { loudspeakers: Record<string, { position: number[] }> };
    }>(`/jobs/${job}`);
    const [x, y] = document.loudspeakers.L13!.position as [number, number];
    expect(Math.abs(x - 27)).toBeLessThan(0.2);
    expect(Math.abs(y - 22.4)).toBeLessThan(0.2);
    expect(world.complaints).toEqual([]);
  });

  it('turns it by its handle', async () => {
    const job = await world.job('example');
    const page = await world.person('Ada');
    await world.open(page, job, 'sound');
    await page.locator('[data-table="loudspeakers"][data-id="L13"]').click();
    const knob = (await page.locator('[data-handle="turn"]').boundingBox())!;
    const at = { x: knob.x + knob.width / 2, y: knob.y + knob.height / 2 };
    await page.mouse.move(at.x, at.y);
    await page.mouse.down();
    for (let i = 1; i <= 10; i++) await page.mouse.move(at.x + 6 * i, at.y - 2 * i);
    await page.mouse.up();
    await page.waitForFunction(async (id) => {
      const r = await fetch(`/api/jobs/${id}`);
      return (await r.json()).document.loudspeakers.L13.bearing < 170;
    }, job);
    expect(world.complaints).toEqual([]);
  });

  it('is followed by the map: pointer event to painted map', async () => {
    const job = await world.job('example');
    const page = await world.person('Ada');
    await world.open(page, job, 'sound');
    await page.locator('[data-area="court"]').getByText(/dBA/).nth(1).waitFor();
    // The first drag lays the places out; it is not measured.
    await dragTo(page, [28.5, 22.6], [30, 22], 40);
    await page.getByRole('button', { name: 'Undo: Move L13' }).waitFor();
    await page.evaluate(() => performance.clearMeasures());
    await dragTo(page, [30, 22], [32, 21], 100);
    await dragTo(page, [32, 21], [28.5, 22.6], 100);
    const pictures = await page.evaluate(() =>
      performance.getEntriesByName('drag to map').map((e) => {
        const { asked_ms, answered_ms, drawn_ms } = (e as PerformanceMeasure).detail as Record<
          string,
          number
        >;
        const ends = [e.startTime, asked_ms!, answered_ms!, drawn_ms!, e.startTime + e.duration];
        return [e.duration, ...ends.slice(1).map((end, i) => end - ends[i]!)];
      }),
    );
    const stages = ['pointer event to painted map', 'event to question', 'answer', 'drawing', 'screen'];
    const sorted = stages.map((_, i) => pictures.map((p) => p[i]!).sort((a, b) => a - b));
    const at = (stage: number, share: number) => {
      const took = sorted[stage]!;
      return took[Math.min(took.length - 1, Math.floor(share * took.length))]!;
    };
    const told = stages.map(
      (s, i) => `${s}: median ${at(i, 0.5).toFixed(1)} ms, 95 % ${at(i, 0.95).toFixed(1)} ms`,
    );
    console.log(`${told.join('; ')}; ${pictures.length} pictures of 200 movements`);
    expect(pictures.length).toBeGreaterThan(40);
    // The aim is 33 ms (30 a second) on a quiet machine; a check that runs beside others only guards against a collapse.
    expect(at(0, 0.5)).toBeLessThan(300);
  });
});
