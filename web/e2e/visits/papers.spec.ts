import { readFileSync } from 'node:fs';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { World } from '../world';
import { Phone } from './phone';

const world = new World();
beforeAll(() => world.serve());
afterAll(() => world.stop());

describe('papers on the phone', () => {
  it('open without a network, the as-built record too', async () => {
    const job = await world.job('example');
    const phone = new Phone(world.base, 'Ada');
    await phone.start();
    await phone.take(job);
    await phone.offline(true);
    await phone.open(job, 'papers');
    await phone.page.getByRole('heading', { name: 'Papers on this phone' }).waitFor();
    const listed = await world.read<{ documents: { file: string; title: string }[] }>(`/jobs/${job}/papers`);
    const pdfs = listed.documents.filter((d) => d.file.endsWith('.pdf'));
    expect(pdfs.some((d) => d.file.includes('as-built'))).toBe(true);
    for (const [n, { title }] of pdfs.entries()) {
      // Chromium takes ten downloads in a burst and no more without a pause of a second.
      if (n % 8 === 7) await phone.page.waitForTimeout(1500);
      const link = phone.page.getByRole('link', { name: title, exact: true });
      // The link opens the file kept on the phone; here it is taken out instead of shown.
      await link.evaluate((a) => ((a as HTMLAnchorElement).download = 'paper.pdf'));
      const waiting = phone.page.waitForEvent('download');
      await link.click();
      const bytes = readFileSync((await (await waiting).path())!);
      expect(bytes.subarray(0, 5).toString(), title).toBe('%PDF-');
    }
    expect(phone.complaints).toEqual([]);
    await phone.stop();
  }, 240_000);
});
