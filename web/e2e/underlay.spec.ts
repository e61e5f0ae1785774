/** The picture under the plan: squared up from a slanted photo, turned, turned over. */
import type { Page } from 'playwright-core';
import { afterAll, afterEach, beforeAll, describe, expect, it } from 'vitest';
import { png } from './png';
import { Hand } from './sketch';
import { settled, still, World } from './world';

const world = new World();
beforeAll(() => world.start());
afterEach(() => world.leave());
afterAll(() => world.stop());

interface Underlay {
  image: string;
  metres_per_pixel: number;
  origin: [number, number];
  up?: number;
}
const underlayOf = async (job: string) =>
  (await world.read<{ document: { site?: { underlay?: Underlay } } }>(`/jobs/${job}`)).document.site!
    .underlay!;

/** A terrace as a camera sees it from the house: its far side is shorter. Pixels of the photo, and where its diagonals cross. */
const CORNERS = [
  [250, 450],
  [550, 450],
  [480, 200],
  [320, 200],
] as const;
const CROSSING = [400, 450 - 250 * (150 / 230)] as const;
const marked = (x: number, y: number) =>
  [...CORNERS, CROSSING].some(([u, v]) => Math.abs(x - u) <= 6 && Math.abs(y - v) <= 6);

/** How bright the picture underneath is at a place of the plan, 0 to 255. */
async function brightness(page: Page, job: string, u: Underlay, [x, y]: [number, number]) {
  return page.evaluate(
    async ([url, px, py]) => {
      const picture = await createImageBitmap(await (await fetch(String(url))).blob());
      const canvas = document.createElement('canvas');
      [canvas.width, canvas.height] = [picture.width, picture.height];
      const pen = canvas.getContext('2d')!;
      pen.drawImage(picture, 0, 0);
      return pen.getImageData(Math.floor(Number(px)), Math.floor(picture.height - Number(py)), 1, 1).data[0]!;
    },
    [
      `/api/jobs/${job}/attachments/${u.image}`,
      (x - u.origin[0]) / u.metres_per_pixel,
      (y - u.origin[1]) / u.metres_per_pixel,
    ],
  );
}

async function withPhoto(name: string) {
  const job = await world.job('empty', name);
  const page = await world.person('Ada');
  await world.open(page, job, 'site');
  await page
    .getByLabel('Picture of the plan')
    .setInputFiles({ name: 'Terrace.png', mimeType: 'image/png', buffer: png(800, 600, marked) });
  await page.getByText('Click two points whose distance is known.').waitFor();
  await page.locator('.plan image').waitFor({ state: 'attached' });
  await still(page);
  return { job, page, hand: new Hand(page) };
}

/** Fresh, a picture is 40 m wide from the datum: 0.05 m a pixel. */
const onPlan = ([x, y]: readonly [number, number]): [number, number] => [0.05 * x, 0.05 * (600 - y)];

describe('the picture underneath', () => {
  it('is squared up from a slanted photo by four points and their distances', async () => {
    const { job, page, hand } = await withPhoto('Slanted');
    await page.getByRole('button', { name: 'Square up by four points' }).click();
    await hand.points(...CORNERS.map(onPlan));
    await page.getByLabel('From 1 to 2').fill('10 m');
    await page.getByLabel('From 2 to 3').fill('12 m');
    await page.getByRole('button', { name: 'Square up the picture' }).click();
    await page.getByRole('button', { name: 'Undo: Square up the picture underneath' }).waitFor();
    await settled(page);
    const u = await underlayOf(job);
    const bright = (at: [number, number]) => brightness(page, job, u, at);
    // The first corner and the way to the second stay: 10 m by 12 m from there.
    const [x, y] = onPlan(CORNERS[0]);
    for (const [e, n] of [
      [0, 0],
      [10, 0],
      [10, 12],
      [0, 12],
      // Diagonals of a rectangle cross in its middle, however it was looked at.
      [5, 6],
    ] as const)
      expect(await bright([x + e, y + n]), `${e}, ${n}`).toBeLessThan(100);
    for (const [e, n] of [
      [5, 3],
      [2, 6],
      [5, 9],
    ] as const)
      expect(await bright([x + e, y + n]), `${e}, ${n}`).toBeGreaterThan(150);
    // Undone, it is the photo as it was brought in.
    await page.getByRole('button', { name: 'Undo: Square up the picture underneath' }).click();
    await expect.poll(async () => (await underlayOf(job)).image).toBe('terrace.png');
    expect(world.complaints).toEqual([]);
  });

  it('says so where the lengths do not close, and changes nothing', async () => {
    const { job, page, hand } = await withPhoto('Wrong lengths');
    await page.getByRole('button', { name: 'Square up by four points' }).click();
    await hand.points(...CORNERS.map(onPlan));
    await page.getByLabel('From 1 to 2').fill('10 m');
    await page.getByLabel('From 2 to 3').fill('2 m');
    await page.getByLabel('Across, from 1 to 3').fill('20 m');
    await page.getByRole('button', { name: 'Square up the picture' }).click();
    await page.getByText('Four sides of these lengths do not close').waitFor();
    expect((await underlayOf(job)).image).toBe('terrace.png');
    expect(world.complaints).toEqual([]);
  });

  it('is turned with the scale, and turned over', async () => {
    const { job, page, hand } = await withPhoto('Turned');
    // The near side of the terrace, from west to east on the picture, runs north.
    await hand.points(onPlan(CORNERS[0]), onPlan(CORNERS[1]));
    await page.getByLabel('How far apart are they really?').fill('15 m');
    await page.getByLabel('Bearing of the second from the first').fill('0');
    await page.getByRole('button', { name: 'Scale the picture' }).click();
    await page.getByRole('button', { name: 'Undo: Scale and turn the plan underneath' }).waitFor();
    const u = await underlayOf(job);
    expect(u.up).toBeCloseTo(270, 0);
    expect(u.metres_per_pixel).toBeCloseTo(0.05, 3);
    await page.getByRole('button', { name: 'Turn over, left for right' }).click();
    await page.getByRole('button', { name: 'Undo: Turn over the plan underneath' }).waitFor();
    const over = await underlayOf(job);
    expect(over).toEqual({ ...u, image: 'terrace-mirrored.png' });
    expect(
      await brightness(page, job, { ...over, origin: [0, 0], metres_per_pixel: 1 }, [800 - 480, 400]),
    ).toBeLessThan(50);
    expect(world.complaints).toEqual([]);
  });
});
