/** Photos pinned to the plan by mouse, by finger and by keys; the form as a sheet on a phone. */
import type { Page } from 'playwright-core';
import { afterAll, afterEach, beforeAll, describe, expect, it } from 'vitest';
import { png } from './png';
import { Hand, sketched } from './sketch';
import { onScreen, still, World } from './world';

const world = new World();
beforeAll(() => world.start());
afterEach(() => world.leave());
afterAll(() => world.stop());

interface Visit {
  kind: string;
  photos: Record<string, { file: string; position: [number, number]; notes?: string }>;
}
const visitsOf = async (job: string) =>
  Object.values(
    (await world.read<{ document: { visits?: Record<string, Visit> } }>(`/jobs/${job}`)).document.visits ??
      {},
  );
const photosOf = async (job: string) => (await visitsOf(job)).flatMap((v) => Object.values(v.photos));

const LAWN = {
  op: 'add',
  path: '/site',
  value: {
    outline: [
      [0, 0],
      [24, 0],
      [24, 16],
      [0, 16],
    ],
  },
};
const PHOTO = { name: 'Gate.png', mimeType: 'image/png', buffer: png(80, 60) };
/** On the plan, within the property: what the whole site shows. */
const near = (at: [number, number], x: number, y: number) =>
  expect(Math.hypot(at[0] - x, at[1] - y)).toBeLessThan(0.3);

async function opened(name: string, options: Parameters<World['person']>[1] = {}) {
  const job = await sketched(world, name, [LAWN]);
  const page = await world.person('Ada', options);
  await world.open(page, job, 'site');
  await still(page);
  return { job, page };
}
const pin = (page: Page, n: number) => page.locator(`.plan [data-photo="${n}"]`);

describe('a photo', () => {
  it('is pinned by the mouse, looked at by its pin, noted, moved and taken out', async () => {
    const { job, page } = await opened('By mouse');
    const hand = new Hand(page);
    await page.getByLabel('Photo of the site').setInputFiles(PHOTO);
    await page.getByText('Click the place the photo shows').waitFor();
    await hand.at(6, 5);
    await pin(page, 1).waitFor({ state: 'attached' });
    const [visit] = await visitsOf(job);
    // Nothing was built yet: it is a first look.
    expect(visit!.kind).toBe('survey');
    near(Object.values(visit!.photos)[0]!.position, 6, 5);
    await hand.at(6, 5);
    const figure = page.locator('.photo');
    await figure.getByRole('img', { name: /^Photo 1/ }).waitFor();
    await figure.getByLabel('What there is to see').fill('Gate, 0.8 m wide');
    await figure.getByLabel('What there is to see').press('Tab');
    await expect.poll(async () => (await photosOf(job))[0]!.notes).toBe('Gate, 0.8 m wide');
    await figure.getByRole('button', { name: 'Set another place' }).click();
    await hand.at(18, 11);
    await expect.poll(async () => (await photosOf(job))[0]!.position[0] > 17).toBe(true);
    await figure.getByRole('button', { name: 'Take out photo 1' }).click();
    await expect.poll(async () => (await photosOf(job)).length).toBe(0);
    await pin(page, 1).waitFor({ state: 'detached' });
    expect(world.complaints).toEqual([]);
  });

  it('is pinned by keys alone', async () => {
    const { job, page } = await opened('By keys');
    const chooser = page.waitForEvent('filechooser');
    await page.getByRole('button', { name: 'Pin a photo to the plan' }).focus();
    await page.keyboard.press('Enter');
    await (await chooser).setFiles(PHOTO);
    await page.getByText('Arrow keys move the cross hair').waitFor();
    for (let n = 0; n < 3; n++) await page.keyboard.press('Shift+ArrowRight');
    await page.keyboard.press('Enter');
    await expect.poll(async () => (await photosOf(job)).length).toBe(1);
    const [x, y] = (await photosOf(job))[0]!.position;
    expect(x).toBeGreaterThan(12);
    expect(y).toBeGreaterThan(0);
    expect(world.complaints).toEqual([]);
  });

  it('is pinned by a finger on a phone', async () => {
    const { job, page } = await opened('By finger', {
      viewport: { width: 390, height: 844 },
      hasTouch: true,
    });
    await page.getByLabel('Photo of the site').setInputFiles(PHOTO);
    await page.getByText('Click the place the photo shows').waitFor();
    const to = await onScreen(page, 12, 8);
    await page.touchscreen.tap(to.x, to.y);
    await expect.poll(async () => (await photosOf(job)).length).toBe(1);
    near((await photosOf(job))[0]!.position, 12, 8);
    expect(world.complaints).toEqual([]);
  });
});

describe('on a phone, while something is drawn', () => {
  it('the plan takes the screen, and the form is a sheet that is pulled up and put back', async () => {
    const { page } = await opened('Sheet', { viewport: { width: 390, height: 844 }, hasTouch: true });
    const plan = page.locator('.plan[role=application]');
    const before = (await plan.boundingBox())!;
    const heading = page.getByRole('heading', { name: 'Everything drawn' });
    const handle = page.getByRole('button', { name: 'Pull up the form' });
    expect(await handle.isVisible()).toBe(false);
    await page.getByRole('toolbar').getByRole('button', { name: 'Surface', exact: true }).tap();
    await handle.waitFor();
    await still(page);
    expect((await plan.boundingBox())!.height).toBeGreaterThan(1.4 * before.height);
    expect(await heading.isVisible()).toBe(false);
    await handle.tap();
    await heading.waitFor();
    const back = page.getByRole('button', { name: 'Back to the plan' });
    expect(await back.getAttribute('aria-expanded')).toBe('true');
    // Pulled down by hand it goes back too.
    const at = (await back.boundingBox())!;
    await page.mouse.move(at.x + at.width / 2, at.y + 10);
    await page.mouse.down();
    await page.mouse.move(at.x + at.width / 2, at.y + 60, { steps: 6 });
    await page.mouse.up();
    await handle.waitFor();
    expect(await heading.isVisible()).toBe(false);
    // With the tool let go everything is where it was, and the next drawing begins with the whole plan.
    await page.keyboard.press('Escape');
    await handle.waitFor({ state: 'hidden' });
    await still(page);
    expect((await plan.boundingBox())!.height).toBeCloseTo(before.height, 0);
    expect(world.complaints).toEqual([]);
  });
});
