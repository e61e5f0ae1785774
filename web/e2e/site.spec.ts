import { crc32, deflateSync } from 'node:zlib';
import { readFileSync } from 'node:fs';
import { afterAll, afterEach, beforeAll, describe, expect, it } from 'vitest';
import { onScreen, World } from './world';

const world = new World();
beforeAll(() => world.start());
afterEach(() => world.leave());
afterAll(() => world.stop());

/** A grey picture as PNG (the form of ISO/IEC 15948: signature, header, one block of rows, end). */
function png(width: number, height: number): Buffer {
  const chunk = (kind: string, data: Buffer) => {
    const body = Buffer.concat([Buffer.from(kind, 'latin1'), data]);
    const [length, check] = [Buffer.alloc(4), Buffer.alloc(4)];
    length.writeUInt32BE(data.length);
    check.writeUInt32BE(crc32(body));
    return Buffer.concat([length, body, check]);
  };
  const head = Buffer.alloc(13);
  head.writeUInt32BE(width, 0);
  head.writeUInt32BE(height, 4);
  head.set([8, 0, 0, 0, 0], 8);
  const rows = Buffer.alloc((width + 1) * height, 0xc8);
  for (let y = 0; y < height; y++) rows[y * (width + 1)] = 0;
  return Buffer.concat([
    Buffer.from([0x89, 0x50, 0x4e, 0x47, 0x0d, 0x0a, 0x1a, 0x0a]),
    chunk('IHDR', head),
    chunk('IDAT', deflateSync(rows)),
    chunk('IEND', Buffer.alloc(0)),
  ]);
}

interface Site {
  document: {
    site?: { underlay?: { image: string; metres_per_pixel: number; origin: [number, number] } };
    surfaces?: Record<string, unknown>;
  };
}

describe('the site', () => {
  it('has a plan underneath, scaled by two clicked points and a distance', async () => {
    const job = await world.job('empty', 'Scaled');
    const page = await world.person('Ada');
    await world.open(page, job, 'site');
    await page
      .getByLabel('Picture of the plan')
      .setInputFiles({ name: 'Survey.png', mimeType: 'image/png', buffer: png(400, 300) });
    await page.getByText('Click two points whose distance is known.').waitFor();
    await page.locator('.plan image').waitFor({ state: 'attached' });
    await page.waitForTimeout(500);
    // A fresh picture is 40 m wide: 0.1 m a pixel. These points are 20 m apart on it, and said to be 8 m.
    for (const x of [5, 25]) {
      const at = await onScreen(page, x, 10);
      await page.mouse.click(at.x, at.y);
    }
    await page.getByLabel('How far apart are they really?').fill('8 m');
    await page.getByRole('button', { name: 'Scale the picture' }).click();
    await page.getByRole('button', { name: 'Undo: Scale the plan underneath' }).waitFor();
    const { underlay } = (await world.read<Site>(`/jobs/${job}`)).document.site!;
    expect(underlay!.metres_per_pixel).toBeCloseTo(0.04, 3);
    // The first point stays where it is: its distance from the corner shrinks like everything.
    expect(underlay!.origin[0]).toBeCloseTo(5 - 5 * 0.4, 1);
    expect(underlay!.origin[1]).toBeCloseTo(10 - 10 * 0.4, 1);
    expect(world.complaints).toEqual([]);
  });

  it('goes out as GeoJSON and comes into another job', async () => {
    const [from, to] = [await world.job('example'), await world.job('empty', 'Copy')];
    const page = await world.person('Ada');
    await world.open(page, from, 'site');
    const waiting = page.waitForEvent('download');
    await page.getByRole('button', { name: 'Take out', exact: true }).click();
    const file = readFileSync((await (await waiting).path())!);
    await world.open(page, to, 'site');
    await page
      .getByLabel('GeoJSON file')
      .setInputFiles({ name: 'site.geojson', mimeType: 'application/geo+json', buffer: file });
    await page.getByText(/things brought in/).waitFor();
    const { document } = await world.read<Site>(`/jobs/${to}`);
    const before = (await world.read<Site>(`/jobs/${from}`)).document;
    expect(Object.keys(document.surfaces!)).toEqual(Object.keys(before.surfaces!));
    expect(world.complaints).toEqual([]);
  });

  it('is changed by dragging a corner, and refuses an outline that meets itself', async () => {
    const job = await world.job('example');
    const page = await world.person('Ada');
    await world.open(page, job, 'site');
    await page.getByRole('button', { name: /^lawn/ }).first().click();
    const corner = await onScreen(page, 23, 12.2);
    await page.mouse.move(corner.x, corner.y);
    await page.mouse.down();
    const across = await onScreen(page, 5, 8);
    await page.mouse.move(across.x, across.y, { steps: 6 });
    await page.mouse.up();
    await page.getByRole('alert').first().waitFor();
    const { document } = await world.read<{ document: { areas: Record<string, { outline: number[][] }> } }>(
      `/jobs/${job}`,
    );
    expect(document.areas.lawn!.outline[2]).toEqual([23, 12.2]);
  });
});
