/** Zones and phases: made on the brief, chosen for areas, and papers of a phase alone. */
import { afterAll, afterEach, beforeAll, describe, expect, it } from 'vitest';
import { serious, tooWide } from './looks';
import { settled, World } from './world';

const world = new World();
beforeAll(() => world.start());
afterEach(() => world.leave());
afterAll(() => world.stop());

interface Document {
  zones?: Record<string, { name: string; phase?: string; spare?: { channels?: number } }>;
  phases?: Record<string, { name: string }>;
  areas: Record<string, { name?: string; zone?: string }>;
}
const documentOf = async (job: string) => (await world.read<{ document: Document }>(`/jobs/${job}`)).document;

describe('zones and phases', () => {
  it('are made on the brief, own areas, and are taken out again', async () => {
    const job = await world.example('walled-courtyard');
    const page = await world.person('Ada');
    await world.open(page, job, 'brief');
    await settled(page);
    const section = page.getByRole('region', { name: 'Zones and phases', exact: true });
    await section.getByRole('button', { name: 'Phase', exact: true }).click();
    await section.getByRole('heading', { name: 'Phase 1', exact: true }).waitFor();
    await section.getByRole('button', { name: 'Zone', exact: true }).click();
    await section.getByRole('heading', { name: 'Zone 1', exact: true }).waitFor();
    await section.getByLabel('Phase', { exact: true }).selectOption({ label: 'Phase 1' });
    await section.getByText('Left spare in Zone 1').click();
    await section.getByLabel('Outputs free in each rack').first().fill('2');
    await section.getByLabel('Outputs free in each rack').first().press('Enter');
    await expect.poll(async () => (await documentOf(job)).zones?.zone1?.spare?.channels).toBe(2);
    expect((await documentOf(job)).zones!.zone1).toMatchObject({ name: 'Zone 1', phase: 'phase1' });
    await page.getByLabel('Zone', { exact: true }).last().selectOption({ label: 'Zone 1' });
    const owned = async () =>
      Object.values((await documentOf(job)).areas).filter((area) => area.zone === 'zone1').length;
    await expect.poll(owned).toBe(1);
    expect(await serious(page)).toEqual([]);
    expect(await tooWide(page)).toEqual([]);

    // The papers of the zone alone bear its name.
    await world.open(page, job, 'papers');
    await page.getByRole('combobox', { name: 'Zone', exact: true }).selectOption({ label: 'Zone 1' });
    await expect
      .poll(() => page.getByRole('link', { name: 'Download all', exact: true }).getAttribute('href'))
      .toContain('zone=zone1');

    // What belonged to it stays, in no zone.
    await world.open(page, job, 'brief');
    await page.getByRole('button', { name: 'Take out zone Zone 1' }).click();
    await page.getByRole('button', { name: 'Take it out' }).click();
    await expect.poll(owned).toBe(0);
    expect((await documentOf(job)).zones ?? {}).toEqual({});
  });
});
