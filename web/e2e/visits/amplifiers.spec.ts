/** How an amplifier was left, taken down on a phone without a network, and what happens when the office did the same. */
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { serious, tooSmall, tooWide } from '../looks';
import { World } from '../world';
import { Phone } from './phone';

const world = new World();
beforeAll(() => world.start());
afterAll(() => world.stop());

interface Document {
  amplifiers: Record<string, { commissioned?: Record<string, string> }>;
  visits?: Record<string, unknown>;
}
const documentOf = async (job: string) => (await world.read<{ document: Document }>(`/jobs/${job}`)).document;

/** What somebody in the office enters meanwhile. */
async function office(job: string, patch: object[]) {
  const { revision } = await world.read<{ revision: number }>(`/jobs/${job}`);
  const response = await fetch(`${world.base}/api/jobs/${job}/edits`, {
    method: 'POST',
    headers: { 'content-type': 'application/json' },
    body: JSON.stringify({
      edit_id: crypto.randomUUID(),
      base_revision: revision,
      patch,
      who: 'Bea',
      note: 'In the office',
    }),
  });
  expect(response.status).toBe(200);
}

describe('the record of an amplifier', () => {
  it('is kept without a network and through a kill, sent later, and asked about field by field', async () => {
    const job = await world.example('walled-courtyard');
    const phone = new Phone(world.base, 'Ada');
    await phone.start();
    await phone.take(job);
    await phone.offline(true);
    await phone.open(job, 'work');
    const form = () => phone.page.getByRole('form', { name: 'How amplifier A1 was left' });
    const open = () => phone.page.locator('summary').filter({ hasText: 'Amplifier A1' }).click();
    await open();
    expect(await form().getByRole('button', { name: 'Keep' }).isDisabled()).toBe(true);
    await form().getByLabel('Firmware').fill('2.4');
    await form().getByLabel('Who holds the password').fill('The owner');
    await form().getByText('Never the password itself.').waitFor();
    await form().getByRole('button', { name: 'Keep' }).click();
    await form().getByText('Kept on this phone.').waitFor();
    // Each field is an entry of its own.
    await phone.until(2);
    await phone.kill();

    await phone.start(true);
    await phone.open(job, 'work');
    await phone.until(2);
    await open();
    expect(await form().getByLabel('Firmware').inputValue()).toBe('2.4');
    // Meanwhile the office writes down another firmware, and the address.
    await office(job, [
      {
        op: 'add',
        path: '/amplifiers/A1/commissioned',
        value: { firmware: '2.3', address: '192.0.2.20' },
      },
    ]);
    await phone.offline(false);
    await phone.page.evaluate(() => dispatchEvent(new Event('online')));
    await phone.page.getByRole('button', { name: '1 to decide' }).click();
    const dialog = phone.page.getByRole('dialog');
    await dialog
      .getByText('Bea changed the record of amplifier A1 (firmware) meanwhile. Which one is to stand?')
      .waitFor();
    await dialog.getByText('Yours: 2.4').waitFor();
    await dialog.getByText('Theirs: 2.3').waitFor();
    // What met nothing has arrived; nobody's field is lost.
    expect((await documentOf(job)).amplifiers.A1!.commissioned).toEqual({
      firmware: '2.3',
      address: '192.0.2.20',
      password_held_by: 'The owner',
    });
    await dialog.getByRole('button', { name: 'Keep mine' }).click();
    await phone.until(0);
    const { amplifiers, visits } = await documentOf(job);
    expect(amplifiers.A1!.commissioned!.firmware).toBe('2.4');
    // A record is of the amplifier: it makes no visit.
    expect(visits).toBeUndefined();
    // What is emptied is taken away.
    await dialog.getByRole('button', { name: 'Close' }).click();
    await phone.page.waitForFunction(() => !document.querySelector('dialog'));
    await form().getByLabel('Address on the network').fill('');
    await form().getByRole('button', { name: 'Keep' }).click();
    await expect
      .poll(async () => (await documentOf(job)).amplifiers.A1!.commissioned, { timeout: 20_000 })
      .toEqual({ firmware: '2.4', password_held_by: 'The owner' });
    expect(phone.complaints).toEqual([]);
    await phone.stop();
  }, 240_000);

  it.each(['light', 'dark'] as const)(
    'is whole and good at 360 px, %s, and filled in with the keyboard alone',
    async (colorScheme) => {
      const job = await world.example('walled-courtyard');
      const page = await world.person('Ada', {
        viewport: { width: 360, height: 740 },
        colorScheme,
        bypassCSP: true,
      });
      await page.goto(`${world.base}/#along/${job}/work`);
      const summary = page.locator('summary').filter({ hasText: 'Amplifier A1' });
      await summary.focus();
      await page.keyboard.press('Enter');
      await page.keyboard.press('Tab');
      await page.keyboard.type('rack-1');
      await page.keyboard.press('Enter');
      await expect
        .poll(async () => (await documentOf(job)).amplifiers.A1!.commissioned, { timeout: 20_000 })
        .toEqual({ network_name: 'rack-1' });
      expect(await tooWide(page)).toEqual([]);
      expect(await tooSmall(page, 12)).toEqual([]);
      expect(await serious(page)).toEqual([]);
      // Fields for thumbs: 48 px high at least, our own floor on the phone.
      for (const field of await page.getByRole('form').locator('input').all())
        expect((await field.boundingBox())!.height).toBeGreaterThanOrEqual(48);
      await world.leave();
    },
    120_000,
  );
});
