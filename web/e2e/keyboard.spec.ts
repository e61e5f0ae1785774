import { readFileSync } from 'node:fs';
import type { Page } from 'playwright-core';
import { afterAll, afterEach, beforeAll, describe, expect, it } from 'vitest';
import { Keys } from './keys';
import { settled, World } from './world';

const world = new World();
beforeAll(() => world.start());
afterEach(() => world.leave());
afterAll(() => world.stop());

interface Document {
  site?: { outline: [number, number][] };
  areas?: Record<string, { outline: [number, number][]; name?: string; target: string }>;
  walls?: Record<string, { line: [number, number][] }>;
  racks?: Record<string, { position: [number, number] }>;
  loudspeakers?: Record<string, { position: [number, number] }>;
}
const PATIENCE_MS = 240_000;

/** A page, and what goes to its parts by key alone. */
class Walk {
  readonly keys: Keys;
  constructor(readonly page: Page) {
    this.keys = new Keys(page);
  }

  saved = () => this.page.locator('header').getByText('saved').waitFor();
  goto = (name: string) =>
    this.keys.take(
      this.page.getByRole('navigation').getByRole('link', { name: new RegExp(`^${name}`) }),
      'Shift+Tab',
    );

  /** Takes a drawing tool: one stop for the row, arrow keys within. */
  async tool(name: string) {
    const row = this.page.getByRole('toolbar');
    await this.keys.to(row.locator('button[tabindex="0"]'));
    await this.keys.press('Home');
    const wanted = row.getByRole('button', { name, exact: true });
    for (let i = 0; i < 20 && !(await wanted.evaluate((e) => e === document.activeElement)); i++)
      await this.keys.press('ArrowRight');
    await this.keys.press('Enter');
    await this.page.locator('.plan[role="application"]:focus').waitFor();
  }

  /** The first corner by its distances, the others by lengths and bearings. */
  async typed(east: string, north: string, sides: [string, string][]) {
    await this.keys.fill(this.page.getByLabel('East', { exact: true }), east);
    await this.keys.fill(this.page.getByLabel('North', { exact: true }), north);
    await this.keys.press('Enter');
    for (const [metres, bearing] of sides) {
      await this.page.getByLabel('Length', { exact: true }).and(this.page.locator(':focus')).waitFor();
      await this.keys.fill(this.page.getByLabel('Length', { exact: true }), metres);
      await this.keys.fill(this.page.getByLabel('Bearing', { exact: true }), bearing);
      await this.keys.press('Enter');
    }
    if (sides.length) await this.keys.take(this.page.getByRole('button', { name: 'Finish' }));
    await this.saved();
  }

  async document(job: string) {
    return (await world.read<{ document: Document }>(`/jobs/${job}`)).document;
  }
}

const RECTANGLE: [string, string][] = [
  ['20 m', '90'],
  ['10 m', '0'],
  ['20 m', '270'],
];

async function drawSite(walk: Walk) {
  const { keys, page } = walk;
  await walk.goto('Site');
  await walk.tool('Property');
  await walk.typed('2 m', '2 m', [
    ['24 m', '90'],
    ['16 m', '0'],
    ['24 m', '270'],
  ]);
  // The plan has the keys again: 0 shows the whole site.
  await page.locator('.plan[role="application"]:focus').waitFor();
  await keys.press('0');
  await walk.tool('Surface');
  await walk.typed('4 m', '4 m', RECTANGLE);
  await walk.tool('Wall or hedge');
  await walk.typed('2 m', '18 m', [['24 m', '90']]);

  // The area with the cross hair, which begins in the middle of the property: 14 m east, 10 m north.
  await walk.tool('Listening area');
  await page.getByText('Cross hair 14 m east, 10 m north').waitFor();
  const by = (far: number, near: number, way: string) => [
    ...Array.from({ length: far }, () => `Shift+Arrow${way}`),
    ...Array.from({ length: near }, () => `Arrow${way}`),
  ];
  await keys.press(...by(1, 6, 'Left'), ...by(0, 8, 'Down'), 'Enter');
  await keys.press(...by(3, 2, 'Right'), 'Enter');
  await keys.press(...by(1, 2, 'Up'), 'Enter');
  await keys.press(...by(3, 2, 'Left'), 'Enter', 'Enter');
  await walk.saved();
  await keys.fill(page.getByLabel('Name', { exact: true }), 'Lawn');
  await keys.press('Enter');
  await keys.fill(page.getByLabel('Level wanted', { exact: true }), '66');
  await keys.press('Enter');
  await walk.saved();
  await keys.to(page.locator('.plan[role="application"]'), 'Shift+Tab');
  await walk.tool('Rack');
  await walk.typed('3 m', '9 m', []);
}

describe('with a keyboard alone', () => {
  it('from an empty job to papers: the site drawn, a design proposed and accepted, a loudspeaker nudged', async () => {
    const page = await world.person('Ada');
    const walk = new Walk(page);
    const { keys } = walk;
    await page.goto(`${world.base}/#/`);
    await keys.fill(page.getByLabel('Name of the place'), 'Quince Yard');
    await keys.take(page.getByRole('button', { name: 'Start from nothing' }));
    await page.getByRole('heading', { name: 'From nothing to papers' }).waitFor();
    await page.getByRole('heading', { name: 'Background music' }).waitFor();
    const job = /#\/([^/]+)\//.exec(page.url())![1]!;

    await drawSite(walk);
    const drawn = await walk.document(job);
    expect(drawn.site!.outline).toEqual([
      [2, 2],
      [26, 2],
      [26, 18],
      [2, 18],
    ]);
    const area = Object.values(drawn.areas!)[0]!;
    expect(area.outline).toEqual([
      [6, 6],
      [22, 6],
      [22, 12],
      [6, 12],
    ]);
    expect([area.name, area.target]).toEqual(['Lawn', '66 dBA']);
    expect(Object.values(drawn.walls!)[0]!.line).toEqual([
      [2, 18],
      [26, 18],
    ]);
    expect(Object.values(drawn.racks!)[0]!.position).toEqual([3, 9]);

    await walk.goto('Sound');
    await keys.to(page.getByRole('tab', { name: 'Levels' }));
    await keys.press('ArrowLeft');
    await keys.to(page.getByLabel('Time'));
    await keys.type('5');
    await keys.take(page.getByRole('button', { name: 'Propose', exact: true }));
    const card = page.getByRole('region', { name: 'Option 1' });
    await card.waitFor({ timeout: PATIENCE_MS });
    await keys.take(card.getByRole('button', { name: 'Accept' }));
    await page.getByRole('button', { name: /^Undo: Accept a proposal/ }).waitFor({ timeout: PATIENCE_MS });

    await keys.to(page.getByRole('tab', { name: 'Propose' }), 'Shift+Tab');
    await keys.press('ArrowRight', 'ArrowRight');
    await keys.take(page.getByRole('button', { name: /^L1,/ }));
    const before = (await walk.document(job)).loudspeakers!.L1!.position;
    await keys.take(page.getByRole('button', { name: 'Move by arrow keys' }), 'Shift+Tab');
    await page.locator('.plan[role="application"]:focus').waitFor();
    await keys.press('ArrowRight');
    await page.getByRole('button', { name: 'Undo: Move L1' }).waitFor();
    const after = (await walk.document(job)).loudspeakers!.L1!.position;
    expect(after[0] - before[0]).toBeCloseTo(0.1, 6);
    expect(after[1]).toBeCloseTo(before[1], 6);

    await walk.goto('Papers');
    const pdf = page.getByRole('link', { name: 'Download Proposal' });
    await pdf.waitFor({ timeout: PATIENCE_MS });
    const waiting = page.waitForEvent('download');
    await keys.take(pdf);
    const bytes = readFileSync((await (await waiting).path())!);
    expect(bytes.subarray(0, 5).toString()).toBe('%PDF-');
    expect(world.complaints).toEqual([]);
  }, 800_000);

  it('a loudspeaker is placed with the cross hair, and a run led through a typed point', async () => {
    const job = await world.job('example');
    const page = await world.person('Ada');
    const walk = new Walk(page);
    const { keys } = walk;
    await world.open(page, job, 'sound');
    await settled(page);
    await keys.to(page.getByRole('tab', { name: 'Levels' }));
    await keys.press('ArrowRight');
    await keys.take(page.getByRole('button', { name: /^stake-165-wide/ }));
    const told = page.getByRole('status').filter({ hasText: 'Click where stake-165-wide stands' });
    const at = /: ([\d.]+) m east, ([\d.]+) m north/.exec(await told.innerText())!;
    await keys.press('ArrowRight', 'Enter');
    await page.getByRole('button', { name: 'Undo: Place L21' }).waitFor();
    const placed = (await walk.document(job)).loudspeakers!.L21!.position;
    expect(placed).toEqual([Number(at[1]) + 0.5, Number(at[2])]);

    await walk.goto('Cable');
    await keys.take(page.getByRole('button', { name: 'A2', exact: true }));
    await keys.take(page.getByRole('button', { name: 'Reroute through a point' }), 'Shift+Tab');
    const east = page.getByLabel('East of point 1 of run A2');
    await east.waitFor();
    await expect.poll(() => east.inputValue()).not.toBe('');
    await keys.fill(east, '7.25 m', 'Shift+Tab');
    await expect.poll(() => east.inputValue()).toMatch(/^7\.25/);
    await keys.press('Enter');
    await page.getByRole('button', { name: 'Undo: Reroute run A2', exact: true }).waitFor();
    const { document } = await world.read<{
      document: { lines: Record<string, { runs: Record<string, { via?: [number, number][] }> }> };
    }>(`/jobs/${job}`);
    expect(document.lines.A!.runs.A2!.via![0]![0]).toBe(7.25);
    expect(world.complaints).toEqual([]);
  });
});

describe('where less motion is wanted', () => {
  const PAGES = ['brief', 'site', 'sound', 'cable', 'processing', 'papers', 'visits'];
  /** What moves by itself: animations that run, and styles that would start one. */
  const moving = (page: Page) =>
    page.evaluate(() => {
      const long = (times: string) => times.split(',').some((t) => Number.parseFloat(t) > 0);
      const styled = [...document.querySelectorAll('*')].filter((e) =>
        [undefined, '::before', '::after'].some((part) => {
          const s = getComputedStyle(e, part);
          return long(s.transitionDuration) || (s.animationName !== 'none' && long(s.animationDuration));
        }),
      );
      const running = document.getAnimations().filter((a) => a.playState === 'running');
      return styled.length + running.length;
    });

  it('nothing is animated on any page, and the plan jumps where it would glide', async () => {
    const job = await world.job('example');
    // Reduced: that nothing moves is what this checks.
    const page = await world.person('Ada', { reducedMotion: 'reduce' });
    for (const name of PAGES) {
      await world.open(page, job, name);
      await settled(page);
      expect(await moving(page), name).toBe(0);
    }
    await world.open(page, job, 'sound');
    const plan = page.locator('.plan[role="application"]');
    const drawn = () => page.locator('.plan svg g[transform^="matrix"]').first().getAttribute('transform');
    const whole = await drawn();
    await plan.focus();
    // One key, one frame: it is there at once.
    const steps = await page.evaluate(async () => {
      const g = document.querySelector('.plan svg g[transform^="matrix"]')!;
      const seen = new Set<string>();
      const watch = new MutationObserver(() => seen.add(g.getAttribute('transform')!));
      watch.observe(g, { attributes: true });
      document
        .querySelector('.plan[role="application"]')!
        .dispatchEvent(new KeyboardEvent('keydown', { key: '+', bubbles: true }));
      for (let i = 0; i < 40; i++) await new Promise((next) => requestAnimationFrame(next));
      watch.disconnect();
      return seen.size;
    });
    expect(steps).toBe(1);
    expect(await drawn()).not.toBe(whole);
    expect(world.complaints).toEqual([]);
  });

  it('the check finds motion that is there', async () => {
    const job = await world.job('example');
    const page = await world.person('Ada');
    await world.open(page, job, 'brief');
    expect(await moving(page)).toBeGreaterThan(0);
  });
});
