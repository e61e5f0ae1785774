import { readFileSync } from 'node:fs';
import { afterAll, afterEach, beforeAll, describe, expect, it } from 'vitest';
import { png } from './png';
import { onScreen, World } from './world';

const world = new World();
beforeAll(() => world.start());
afterEach(() => world.leave());
afterAll(() => world.stop());

/** A page with a frame and a cross as PDF (ISO 32000-1: header, objects, cross-reference table, trailer). */
function pdf(width: number, height: number): Buffer {
  const drawing = `4 w 40 40 ${width - 80} ${height - 80} re S 100 100 m ${width - 100} ${height - 100} l S`;
  const objects = [
    '<< /Type /Catalog /Pages 2 0 R >>',
    '<< /Type /Pages /Kids [3 0 R] /Count 1 >>',
    `<< /Type /Page /Parent 2 0 R /MediaBox [0 0 ${width} ${height}] /Contents 4 0 R /Resources << >> >>`,
    `<< /Length ${drawing.length} >>\nstream\n${drawing}\nendstream`,
  ];
  let text = '%PDF-1.4\n';
  const at = objects.map((object, i) => {
    const start = text.length;
    text += `${i + 1} 0 obj\n${object}\nendobj\n`;
    return `${String(start).padStart(10, '0')} 00000 n \n`;
  });
  const table = text.length;
  text += `xref\n0 5\n0000000000 65535 f \n${at.join('')}`;
  text += `trailer\n<< /Size 5 /Root 1 0 R >>\nstartxref\n${table}\n%%EOF\n`;
  return Buffer.from(text, 'latin1');
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

  it('takes the first page of a PDF as the plan underneath, drawn sharply and scaled the same way', async () => {
    const job = await world.job('empty', 'From a PDF');
    const page = await world.person('Ada');
    await world.open(page, job, 'site');
    await page
      .getByLabel('Picture of the plan')
      .setInputFiles({ name: 'Survey A3.pdf', mimeType: 'application/pdf', buffer: pdf(800, 600) });
    await page.getByText('Click two points whose distance is known.').waitFor({ timeout: 60_000 });
    await page.locator('.plan image').waitFor({ state: 'attached' });
    await page.waitForTimeout(500);
    // Fresh, the page is 40 m wide: 0.05 m a point. Two points 20 m apart on it are said to be 50 ft.
    for (const x of [5, 25]) {
      const at = await onScreen(page, x, 10);
      await page.mouse.click(at.x, at.y);
    }
    await page.getByLabel('How far apart are they really?').fill('50 ft');
    await page.getByRole('button', { name: 'Scale the picture' }).click();
    await page.getByRole('button', { name: 'Undo: Scale the plan underneath' }).waitFor();
    const { underlay } = (await world.read<Site>(`/jobs/${job}`)).document.site!;
    const picture = Buffer.from(
      await (await fetch(`${world.base}/api/jobs/${job}/attachments/${underlay!.image}`)).arrayBuffer(),
    );
    // A PNG's width and height stand after its signature and the head of its first chunk.
    const [wide, high] = [picture.readUInt32BE(16), picture.readUInt32BE(20)];
    expect(wide).toBe(4000);
    expect(high).toBe(3000);
    expect(underlay!.metres_per_pixel * wide).toBeCloseTo((40 * 50 * 0.3048) / 20, 1);
    expect(world.complaints).toEqual([]);
  });

  it('says so when a PDF cannot be read, and nothing is changed', async () => {
    const job = await world.job('empty', 'Broken');
    const page = await world.person('Ada');
    await world.open(page, job, 'site');
    await page.getByLabel('Picture of the plan').setInputFiles({
      name: 'Broken.pdf',
      mimeType: 'application/pdf',
      buffer: Buffer.from('%PDF-1.7 and nothing more'),
    });
    await page.getByText('the PDF cannot be read').waitFor({ timeout: 60_000 });
    expect((await world.read<Site>(`/jobs/${job}`)).document.site?.underlay).toBeUndefined();
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
    await page.getByRole('button', { name: /^Lawn/ }).first().click();
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
