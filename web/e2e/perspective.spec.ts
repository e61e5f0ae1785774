/** The garden in perspective beside the plan: turned by hand and keys, in step with the job; evening and night on the map. */
import type { Page } from 'playwright-core';
import { afterAll, afterEach, beforeAll, describe, expect, it } from 'vitest';
import { dragTo, settled, still, World } from './world';

const world = new World();
beforeAll(() => world.start());
afterEach(() => world.leave());
afterAll(() => world.stop());

const picture = (page: Page) => page.locator('.perspective .host svg');
const drawn = (page: Page) => picture(page).evaluate((svg) => svg.outerHTML);

async function opened(page: Page, job: string) {
  await world.open(page, job, 'sound');
  await page.locator('.legend').waitFor();
  await settled(page);
  await page.getByRole('button', { name: 'Perspective', exact: true }).click();
  await picture(page).waitFor();
}

/** Waits until the picture is another one. */
const changed = (page: Page, from: string) =>
  page.waitForFunction(
    (before) => document.querySelector('.perspective .host svg')?.outerHTML !== before,
    from,
  );

describe('the garden in perspective', () => {
  it('is small enough for a telephone, and says what the neighbours get', async () => {
    const page = await world.person('Ada');
    const sizes: number[] = [];
    page.on('response', (r) => {
      if (r.url().includes('/perspective.svg')) void r.body().then((b) => sizes.push(b.length));
    });
    await opened(page, await world.job('example'));
    await picture(page)
      .getByText(/dB (below|above) the limit/)
      .first()
      .waitFor({ state: 'attached' });
    await expect.poll(() => sizes.length).toBeGreaterThan(0);
    expect(Math.max(...sizes)).toBeLessThan(300_000);
    expect(world.complaints).toEqual([]);
  });

  it('is turned by a hand, by keys and by sliders, and closed by Escape', async () => {
    const page = await world.person('Ada');
    await opened(page, await world.job('example'));
    const host = page.locator('.perspective .host');
    let before = await drawn(page);
    const box = (await host.boundingBox())!;
    const [x, y] = [box.x + box.width / 2, box.y + box.height / 2];
    await page.mouse.move(x, y);
    await page.mouse.down();
    await page.mouse.move(x + 100, y + 30, { steps: 8 });
    await page.mouse.up();
    await changed(page, before);
    const said = await host.getAttribute('aria-label');
    before = await drawn(page);
    await host.focus();
    for (let i = 0; i < 9; i++) await page.keyboard.press('ArrowRight');
    // Nine times five degrees are a wind farther.
    expect(await host.getAttribute('aria-label')).not.toBe(said);
    await changed(page, before);
    before = await drawn(page);
    await page.getByRole('slider', { name: 'Tilt' }).fill('70');
    await changed(page, before);
    await host.focus();
    await page.keyboard.press('Escape');
    await picture(page).waitFor({ state: 'detached' });
    expect(world.complaints).toEqual([]);
  });

  it('is drawn anew when a loudspeaker is let go of, not while it is dragged', async () => {
    const page = await world.person('Ada');
    await opened(page, await world.job('example'));
    await settled(page);
    await still(page);
    await page.waitForTimeout(500);
    let asked = 0;
    let held = true;
    let early = 0;
    page.on('request', (r) => {
      if (!r.url().includes('/perspective.svg')) return;
      asked++;
      if (held) early++;
    });
    const before = await drawn(page);
    await page.evaluate(() => addEventListener('pointerup', () => (document.title = 'let go'), true));
    const letGo = page.waitForFunction(() => document.title === 'let go').then(() => (held = false));
    await dragTo(page, [28.5, 22.6], [26, 21]);
    await letGo;
    await changed(page, before);
    expect(asked).toBeGreaterThan(0);
    expect(asked).toBeLessThanOrEqual(2);
    expect(early).toBeLessThanOrEqual(1);
    expect(world.complaints).toEqual([]);
  });

  it('takes the place of the plan on a telephone', async () => {
    const page = await world.person('Ada', { viewport: { width: 390, height: 844 } });
    await opened(page, await world.job('example'));
    const box = (await picture(page).boundingBox())!;
    expect(box.width).toBeGreaterThan(300);
    const small = await picture(page)
      .locator('text')
      .evaluateAll((all) => all.map((t) => t.getBoundingClientRect().height).filter((h) => h > 0 && h < 8));
    expect(small).toEqual([]);
  });
});

describe('evening and night', () => {
  it('pale the map on the same scale', async () => {
    const page = await world.person('Ada');
    await world.open(page, await world.job('example'), 'sound');
    await page.locator('.legend').waitFor();
    await settled(page);
    const legend = () => page.locator('.legend').innerHTML();
    /** The mean of red, green and blue of the painted places: on pale ground more is quieter. */
    const light = () =>
      page.evaluate(() => {
        const canvas = document.querySelector<HTMLCanvasElement>('canvas.field')!;
        const { data } = canvas.getContext('2d')!.getImageData(0, 0, canvas.width, canvas.height);
        let [sum, count] = [0, 0];
        for (let i = 0; i < data.length; i += 4)
          if (data[i + 3]) {
            sum += data[i]! + data[i + 1]! + data[i + 2]!;
            count++;
          }
        return sum / count;
      });
    const [scale, party] = [await legend(), await light()];
    await page.getByRole('radio', { name: /^Evening/ }).click();
    await settled(page);
    const evening = await light();
    await page.getByRole('radio', { name: /^Night/ }).click();
    await settled(page);
    const night = await light();
    expect(evening).toBeGreaterThan(party);
    expect(night).toBeGreaterThan(evening);
    expect(await legend()).toBe(scale);
  });
});
