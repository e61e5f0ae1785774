import { afterAll, afterEach, beforeAll, describe, expect, it } from 'vitest';
import { dragTo, World } from './world';

const world = new World();
beforeAll(() => world.start());
afterEach(() => world.leave());
afterAll(() => world.stop());

interface Speakers {
  document: { loudspeakers: Record<string, { position: [number, number]; tap: string }> };
}

describe('two browsers on one job', () => {
  it('see each other, and edits to different things merge', async () => {
    const job = await world.job('example');
    const [ada, ben] = [await world.person('Ada'), await world.person('Ben')];
    await world.open(ada, job, 'sound');
    await world.open(ben, job, 'sound');
    await ada.getByText('Also here: Ben', { exact: true }).waitFor({ state: 'attached' });
    await ben.getByText('Also here: Ada', { exact: true }).waitFor({ state: 'attached' });
    await Promise.all([dragTo(ada, [28.5, 22.6], [27, 22.4], 8), dragTo(ben, [10, 3.4], [11, 3])]);
    for (const page of [ada, ben]) {
      await page.getByRole('button', { name: /^Undo: Move L(13|7)$/ }).waitFor();
      await page.getByText('saved').waitFor();
    }
    const { document } = await world.read<Speakers>(`/jobs/${job}`);
    expect(document.loudspeakers.L13!.position[0]).toBeLessThan(27.3);
    expect(document.loudspeakers.L7!.position[0]).toBeGreaterThan(10.7);
    await ben.getByRole('button', { name: 'History' }).click();
    const dialog = ben.getByRole('dialog');
    await dialog.getByText('Move L13').waitFor();
    expect(await dialog.innerText()).toContain('Ada');
    expect(await dialog.innerText()).toContain('Ben');
    expect(world.complaints).toEqual([]);
  });

  it('are asked in plain words when both change the same thing', async () => {
    const job = await world.job('example');
    const [ada, ben] = [await world.person('Ada'), await world.person('Ben')];
    for (const page of [ada, ben]) {
      await world.open(page, job, 'brief');
      await page.getByRole('textbox', { name: 'Turned down at night by' }).waitFor();
    }
    // Ben does not hear of Ada's edit: his answers are held back until his own edit is under way.
    let let_go = () => {};
    const held = new Promise<void>((done) => (let_go = done));
    await ben.route(
      (url) => url.pathname === `/api/jobs/${job}`,
      async (route) => {
        await held;
        await route.continue();
      },
    );
    const edited = async (page: typeof ada, value: string) => {
      const field = page.getByRole('textbox', { name: 'Turned down at night by' });
      await field.fill(value);
      await field.press('Enter');
    };
    await edited(ada, '8 dB');
    await ada.getByText('saved').waitFor();
    await edited(ben, '15 dB');
    const dialog = ben.getByRole('dialog', { name: /Ada changed the same thing/ });
    await dialog.waitFor();
    let_go();
    expect(await dialog.innerText()).toMatch(/15 dB[\s\S]*8 dB/);
    // In the words of the form, not of the file.
    expect(await dialog.innerText()).toContain('the brief, turned down at night by');
    await dialog.getByRole('button', { name: 'Keep mine' }).click();
    await dialog.waitFor({ state: 'detached' });
    await ada.waitForFunction(async (id) => {
      const { document } = await (await fetch(`/api/jobs/${id}`)).json();
      return document.brief.night_turn_down === '15 dB';
    }, job);
  });
});

describe('two windows in one field', () => {
  it('are both told: what is typed replaces what was set meanwhile, and what was set is gone', async () => {
    const job = await world.job('example');
    const [ada, ben] = [await world.person('Ada'), await world.person('Ben')];
    const field = (page: typeof ada) => page.getByRole('textbox', { name: 'Turned down at night by' });
    for (const page of [ada, ben]) {
      await world.open(page, job, 'brief');
      await field(page).waitFor();
    }
    await field(ben).fill('15 dB');
    await field(ada).fill('8 dB');
    await field(ada).press('Enter');
    await ben.getByText('Set to "8 dB" meanwhile').waitFor();
    expect(await field(ben).inputValue()).toBe('15 dB');
    await field(ben).press('Enter');
    await ben.getByText('what was typed here replaced "8 dB", set meanwhile.').waitFor();
    await ada.getByText('Changed meanwhile; it was "8 dB".').waitFor();
    expect(await field(ada).inputValue()).toBe('15 dB');
    // The message has the way back.
    await ben
      .getByRole('status')
      .filter({ hasText: 'replaced "8 dB"' })
      .getByRole('button', { name: 'Undo' })
      .click();
    await ada.waitForFunction(async (id) => {
      const { document } = await (await fetch(`/api/jobs/${id}`)).json();
      return document.brief.night_turn_down === '8 dB';
    }, job);
    expect(world.complaints).toEqual([]);
  });
});

describe("two windows at the firm's page", () => {
  it('keep each what the other set, and say what they replace', async () => {
    const [ada, ben] = [await world.person('Ada'), await world.person('Ben')];
    const field = (page: typeof ada, name: RegExp) => page.getByRole('textbox', { name });
    const [opening, closing] = [/^First paragraph/, /^Last paragraph/];
    for (const page of [ada, ben]) {
      await page.goto(`${world.base}/#firm`);
      await field(page, opening).waitFor();
    }
    const set = async (page: typeof ada, name: RegExp, text: string) => {
      await field(page, name).fill(text);
      await field(page, name).blur();
      await page.getByText('Kept.', { exact: true }).waitFor();
    };
    await set(ada, opening, 'Good day.');
    await set(ben, closing, 'Until soon.');
    const firm = async () => (await world.read<{ profile: Record<string, string> }>('/firm')).profile;
    await expect.poll(firm).toMatchObject({ opening: 'Good day.', closing: 'Until soon.' });
    // Ada's window shows no last paragraph yet.
    await set(ada, closing, 'Yours.');
    await ada.getByText('What was typed here replaced "Until soon.", set meanwhile.').waitFor();
    expect(await firm()).toMatchObject({ opening: 'Good day.', closing: 'Yours.' });
    expect(world.complaints).toEqual([]);
  });
});

describe('undo', () => {
  it('in the office leaves a reading entered on site, which whoever took it can still take out', async () => {
    const job = await world.job('example');
    const [office, site] = [await world.person('Ada'), await world.person('Ben')];
    await world.open(office, job, 'sound');
    await dragTo(office, [28.5, 22.6], [27, 22.4], 8);
    await office.getByRole('button', { name: 'Undo: Move L13' }).waitFor();
    // On the phone's page, in the other window.
    await site.goto(`${world.base}/#along/${job}/measure`);
    await site.getByRole('group', { name: 'What was measured' }).waitFor();
    await site.locator('[data-field=reading]').fill('4.2');
    await site.getByRole('button', { name: 'Enter', exact: true }).click();
    await site.locator('[data-waiting="0"]').waitFor();
    const readings = async () => {
      const { document } = await world.read<{
        document: { visits: Record<string, { readings?: Record<string, object> }> };
      }>(`/jobs/${job}`);
      return Object.entries(document.visits).flatMap(([v, { readings }]) =>
        Object.keys(readings ?? {}).map((r) => `${v}/${r}`),
      );
    };
    await office.waitForFunction(async (id) => {
      const { revision } = await (await fetch(`/api/jobs/${id}`)).json();
      return revision >= 2;
    }, job);
    const entered = await readings();
    // The office still sees its own move as what is undone, and undoing to the end leaves the reading.
    await office.getByRole('button', { name: 'Undo: Move L13' }).click();
    await office.getByRole('button', { name: 'Nothing to undo' }).waitFor();
    await office.keyboard.press('Control+z');
    await office.waitForTimeout(300);
    expect(await readings()).toEqual(entered);
    const { document } = await world.read<Speakers>(`/jobs/${job}`);
    expect(document.loudspeakers.L13!.position).toEqual([28.5, 22.6]);
    // A wrong reading is corrected where it was taken.
    await site
      .locator('[data-reading]')
      .first()
      .getByRole('button', { name: /^Take out/ })
      .click();
    await site.waitForFunction(
      async ([id, many]) => {
        const { document } = await (await fetch(`/api/jobs/${id}`)).json();
        const all = Object.values(document.visits as Record<string, { readings?: object }>);
        return all.flatMap((v) => Object.keys(v.readings ?? {})).length < many;
      },
      [job, entered.length] as const,
    );
    expect(world.complaints).toEqual([]);
  });

  it("is one's own: another's edit stays, and what it needs is told by name", async () => {
    const job = await world.job('example');
    const [ada, ben] = [await world.person('Ada'), await world.person('Ben')];
    await world.open(ada, job, 'sound');
    await world.open(ben, job, 'sound');
    await dragTo(ada, [28.5, 22.6], [27, 22.4], 8);
    await ada.getByRole('button', { name: 'Undo: Move L13' }).waitFor();
    // Ben has done nothing, and has nothing to undo.
    await ben.getByText('saved').waitFor();
    await ben.getByRole('button', { name: 'Nothing to undo' }).waitFor();
    await dragTo(ben, [10, 3.4], [11, 3]);
    await ben.getByRole('button', { name: 'Undo: Move L7' }).waitFor();
    // Ada's is not the newest edit, and the one undone all the same.
    await ada.getByRole('button', { name: 'Undo: Move L13' }).click();
    await ada.getByRole('button', { name: 'Redo: Move L13' }).waitFor();
    const places = async () => (await world.read<Speakers>(`/jobs/${job}`)).document.loudspeakers;
    expect((await places()).L13!.position).toEqual([28.5, 22.6]);
    expect((await places()).L7!.position[0]).toBeGreaterThan(10.7);
    // Moved by Ben meanwhile, it is not moved under his hands.
    await ada.getByRole('button', { name: 'Redo: Move L13' }).click();
    await ada.getByRole('button', { name: 'Undo: Move L13' }).waitFor();
    await dragTo(ben, [27, 22.4], [26, 22.4], 8);
    await ben.getByRole('button', { name: 'Undo: Move L13' }).waitFor();
    const ben_put_it = (await places()).L13!.position;
    await ada.getByRole('button', { name: 'Undo: Move L13' }).click();
    await ada.getByText(/^Cannot undo "Move L13": Ben changed L13 later/).waitFor();
    expect((await places()).L13!.position).toEqual(ben_put_it);
  });

  it('goes back to any point of the history, where both values stand', async () => {
    const job = await world.job('example');
    const page = await world.person('Ada');
    await world.open(page, job, 'sound');
    await dragTo(page, [28.5, 22.6], [27, 22.4], 8);
    await page.getByRole('button', { name: 'Undo: Move L13' }).waitFor();
    const places = async () => (await world.read<Speakers>(`/jobs/${job}`)).document.loudspeakers;
    const first = (await places()).L13!.position;
    await dragTo(page, [10, 3.4], [11, 3]);
    await page.getByRole('button', { name: 'Undo: Move L7' }).waitFor();
    const moved = (await places()).L7!.position;
    await page.getByRole('button', { name: 'History' }).click();
    const dialog = page.getByRole('dialog');
    await dialog.getByText('What changed').first().click();
    await dialog.getByText(`to ${moved.join(', ')}`).waitFor();
    await dialog.getByRole('button', { name: 'Go back to 1' }).click();
    await dialog.getByText('one later edit by Ada').waitFor();
    await dialog.getByRole('button', { name: 'Go back', exact: true }).click();
    await page.getByRole('button', { name: 'Undo: Go back to revision 1' }).waitFor();
    expect((await places()).L13!.position).toEqual(first);
    expect((await places()).L7!.position[0]).toBeLessThan(10.7);
    expect(world.complaints).toEqual([]);
  });

  it('works after the program was killed and started again', async () => {
    const job = await world.job('example');
    const page = await world.person('Ada');
    await world.open(page, job, 'sound');
    await dragTo(page, [28.5, 22.6], [27, 22.4], 8);
    await page.getByRole('button', { name: 'Undo: Move L13' }).waitFor();
    await world.halt();
    await world.serve();
    const again = await world.person('Ada');
    await world.open(again, job, 'sound');
    await again.getByRole('button', { name: 'Undo: Move L13' }).click();
    await again.getByRole('button', { name: 'Redo: Move L13' }).waitFor();
    const { document } = await world.read<Speakers>(`/jobs/${job}`);
    expect(document.loudspeakers.L13!.position).toEqual([28.5, 22.6]);
  });
});
