import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { World } from '../world';
import { Phone, type Kept, type LogEntry } from './phone';

const READINGS = 200;
const PHOTOS = 20;
const world = new World();
beforeAll(() => world.serve());
afterAll(() => world.stop());

/** Every entry of a job's log, oldest first. */
async function log(job: string): Promise<LogEntry[]> {
  const all: LogEntry[] = [];
  for (let before: number | undefined; ; before = all[0]!.revision) {
    const part = await world.read<LogEntry[]>(
      `/jobs/${job}/history?limit=500${before ? `&before=${before}` : ''}`,
    );
    all.unshift(...part.reverse());
    if (part.length < 500) return all;
  }
}

describe('a day without a network', () => {
  it('opens again, keeps 200 readings and 20 photos through a kill, and sends each exactly once', async () => {
    const job = await world.job('example');
    const phone = new Phone(world.base, 'Ada');
    await phone.start();
    await phone.take(job);
    await world.halt();
    await phone.offline(true);

    await phone.page.reload();
    await phone.page.getByText('out of reach, works on').waitFor();
    const began = Date.now();
    const values: number[] = [];
    for (let i = 0; i < READINGS; i++) {
      const ohm = Math.round((12 + i * 0.01) * 1000) / 1000;
      values.push(ohm);
      await phone.reading(ohm);
      await phone.until(i + 1);
    }
    console.log(`200 readings typed in ${((Date.now() - began) / 1000).toFixed(1)} s`);
    await phone.open(job, 'work', 'L1');
    for (let i = 0; i < PHOTOS; i++) {
      await phone.photo(i);
      await phone.until(READINGS + i + 1);
    }
    await phone.kill();

    await phone.start(true);
    await phone.open(job, 'measure');
    await phone.until(READINGS + PHOTOS);
    await phone.page.getByRole('button', { name: `${READINGS + PHOTOS} not yet sent` }).waitFor();

    // The office comes back, and its power is cut twice while it takes things in.
    await world.serve();
    await phone.offline(false);
    await phone.page.evaluate(() => dispatchEvent(new Event('online')));
    for (const left of [170, 60]) {
      await phone.page.waitForFunction(
        (n) => Number(window.document.querySelector<HTMLElement>('[data-waiting]')!.dataset.waiting) <= n,
        left,
        { timeout: 120_000 },
      );
      await world.halt();
      await phone.page.getByText('out of reach, works on').waitFor();
      await world.serve();
      await phone.page.evaluate(() => dispatchEvent(new Event('online')));
    }
    await phone.until(0, 120_000);

    const { document } = await world.read<Kept>(`/jobs/${job}`);
    const visit = Object.entries(document.visits).find(([id]) => id !== 'V1')![1];
    expect(Object.values(visit.readings!).map((r) => Number.parseFloat(String(r.dc)))).toEqual(values);
    const photos = Object.values(visit.photos!);
    expect(photos).toHaveLength(PHOTOS);
    for (const { file } of photos) {
      const answer = await fetch(`${world.base}/api/jobs/${job}/attachments/${file}`);
      expect(answer.headers.get('content-type')).toBe('image/jpeg');
      expect((await answer.arrayBuffer()).byteLength).toBeGreaterThan(5000);
    }
    const entries = await log(job);
    expect(entries).toHaveLength(READINGS + PHOTOS);
    const sent = entries.map((e) => e.patch.map((o) => o.path).join());
    expect(new Set(sent).size).toBe(sent.length);
    expect(phone.complaints).toEqual([]);
    await phone.stop();
  }, 600_000);
});

describe('two phones without a network on one line', () => {
  it('merge: nothing of either is lost, a tick of both is one', async () => {
    const job = await world.job('example');
    const phones = [new Phone(world.base, 'Ada'), new Phone(world.base, 'Ben')];
    for (const phone of phones) {
      await phone.start();
      await phone.take(job);
      await phone.offline(true);
    }
    for (const [i, phone] of phones.entries()) {
      // Both go on with the visit that is there.
      await phone.page.locator('summary').first().click();
      await phone.page.getByLabel('Or go on with').selectOption('V1');
      for (let n = 0; n < 15; n++) await phone.reading((13 + i + n / 100).toFixed(2));
      await phone.until(15);
      await phone.open(job, 'work', 'L1');
      await phone.page.locator('[data-tick="L1-placed"]').click();
      await phone.page.locator(`[data-tick="L1-${i ? 'tap' : 'joint'}"]`).click();
      await phone.until(17);
    }
    await Promise.all(
      phones.map(async (phone) => {
        await phone.offline(false);
        await phone.page.evaluate(() => dispatchEvent(new Event('online')));
        await phone.until(0);
      }),
    );
    const { document } = await world.read<Kept>(`/jobs/${job}`);
    const { readings, done } = document.visits.V1!;
    const dc = Object.values(readings!).map((r) => Number.parseFloat(String(r.dc)));
    for (let i = 0; i < 2; i++) {
      const own = dc.filter((v) => v >= 13 + i && v < 13.5 + i && v !== 14.3);
      expect(own).toEqual(Array.from({ length: 15 }, (_, n) => 13 + i + n / 100).filter((v) => v !== 14.3));
    }
    expect(Object.keys(done!).sort()).toEqual(['L1-joint', 'L1-placed', 'L1-tap']);
    for (const phone of phones) {
      expect(phone.complaints).toEqual([]);
      await phone.stop();
    }
  }, 240_000);

  it('are asked in plain words when the office changed the same thing', async () => {
    const job = await world.job('example');
    const phone = new Phone(world.base, 'Ada');
    await phone.start();
    await phone.take(job);
    await phone.offline(true);
    await phone.page.locator('summary').first().click();
    await phone.page.getByLabel('Or go on with').selectOption('V1');
    await phone.page.getByRole('button', { name: 'Take out 6.40 ohm, DC' }).click();
    await phone.reading(14.1);
    await phone.until(2);
    const before = await world.read<Kept>(`/jobs/${job}`);
    const edit = await fetch(`${world.base}/api/jobs/${job}/edits`, {
      method: 'POST',
      headers: { 'content-type': 'application/json' },
      body: JSON.stringify({
        edit_id: crypto.randomUUID(),
        base_revision: before.revision,
        patch: [{ op: 'replace', path: '/visits/V1/readings/A-dc/dc', value: '15.0 ohm' }],
        who: 'Ben',
        note: 'Misread',
      }),
    });
    expect(edit.status).toBe(200);
    await phone.offline(false);
    await phone.page.evaluate(() => dispatchEvent(new Event('online')));
    // The other reading is not held up.
    await phone.until(1);
    await phone.page.getByRole('button', { name: '1 to decide' }).click();
    const dialog = phone.page.getByRole('dialog');
    await dialog.getByText('Ben changed the reading A-dc meanwhile').waitFor();
    expect(await dialog.innerText()).toContain('dc: 15.0 ohm');
    await dialog.getByRole('button', { name: 'Keep theirs' }).click();
    await phone.until(0);
    const { document } = await world.read<Kept>(`/jobs/${job}`);
    expect(document.visits.V1!.readings!['A-dc']!.dc).toBe('15.0 ohm');
    expect(Object.values(document.visits.V1!.readings!).map((r) => r.dc)).toContain('14.1 ohm');
    expect(phone.complaints).toEqual([]);
    await phone.stop();
  }, 120_000);
});

describe('a clock that is wrong by a day', () => {
  it('reorders and loses nothing; the office notes its own time', async () => {
    const job = await world.job('example');
    const DAY_MS = 86_400_000;
    const phone = new Phone(world.base, 'Ada', -DAY_MS);
    await phone.start();
    await phone.take(job);
    await phone.page.getByText("This phone's clock is 1 day behind").waitFor();
    await phone.offline(true);
    const values = [13.1, 13.2, 13.3, 13.4];
    for (const [i, v] of values.entries()) {
      await phone.reading(v);
      await phone.until(i + 1);
      // Half way somebody sets the clock two days forward.
      if (i === 1) {
        await phone.page.evaluate((off) => {
          const now = Date.now;
          Date.now = () => now() + off;
        }, 2 * DAY_MS);
      }
    }
    await phone.offline(false);
    await phone.page.evaluate(() => dispatchEvent(new Event('online')));
    await phone.until(0);
    const { document } = await world.read<Kept>(`/jobs/${job}`);
    const [, visit] = Object.entries(document.visits).find(([id]) => id !== 'V1')!;
    expect(Object.values(visit.readings!).map((r) => Number.parseFloat(String(r.dc)))).toEqual(values);
    expect((visit as unknown as { date: string }).date).toBe(localDay(new Date()));
    for (const entry of await log(job)) {
      expect(Math.abs(Date.parse(entry.at) - Date.now())).toBeLessThan(120_000);
      expect(Math.abs(Date.parse(entry.made_at!) - Date.now())).toBeGreaterThan(DAY_MS / 2);
    }
    expect(phone.complaints).toEqual([]);
    await phone.stop();
  }, 120_000);
});

const localDay = (d: Date) =>
  `${d.getFullYear()}-${String(d.getMonth() + 1).padStart(2, '0')}-${String(d.getDate()).padStart(2, '0')}`;

describe('a phone with no room left', () => {
  it('says so before anything is lost: photos are refused, readings go on, what was kept is whole', async () => {
    const job = await world.job('example');
    const phone = new Phone(world.base, 'Ada');
    await phone.start();
    await phone.take(job);
    await phone.offline(true);
    await phone.reading(14.2);
    await phone.until(1);
    await phone.room(200_000);
    await phone.open(job, 'work', 'L1');
    let kept = 0;
    const refused = phone.page.getByText('This phone has no room left: this is not kept');
    while (!(await refused.isVisible())) {
      await phone.photo(kept);
      await refused
        .or(phone.page.locator(`[data-waiting="${kept + 2}"]`))
        .first()
        .waitFor();
      kept = (await phone.waiting()) - 1;
      expect(kept).toBeLessThan(40);
    }
    await phone.page.getByRole('button', { name: 'Try to keep it again' }).waitFor();
    await phone.page.getByText('This phone is full').waitFor();
    await phone.open(job, 'measure');
    await phone.reading(14.4);
    await phone.until(kept + 2);
    // The room kept free for readings is used, then used up.
    await phone.room(1);
    await phone.reading(14.5);
    await phone.until(kept + 3);
    await phone.room(1);
    // Not even a reading fits: it stands in its field again, and what was kept stays.
    await phone.reading(14.6);
    await refused.waitFor();
    expect(await phone.page.locator('[data-field=reading]').inputValue()).toBe('14.6');
    expect(await phone.waiting()).toBe(kept + 3);
    await phone.room(1e9);
    await phone.page.getByRole('button', { name: 'Enter', exact: true }).click();
    await phone.until(kept + 4);
    await phone.offline(false);
    await phone.page.evaluate(() => dispatchEvent(new Event('online')));
    await phone.until(0);
    const { document } = await world.read<Kept>(`/jobs/${job}`);
    const [, visit] = Object.entries(document.visits).find(([id]) => id !== 'V1')!;
    expect(Object.values(visit.readings!).map((r) => r.dc)).toEqual([
      '14.2 ohm',
      '14.4 ohm',
      '14.5 ohm',
      '14.6 ohm',
    ]);
    expect(Object.keys(visit.photos ?? {})).toHaveLength(kept);
    expect(phone.complaints).toEqual([]);
    await phone.stop();
  }, 120_000);
});
