/** A part of a job looked at alone: what is in it stays, the rest is faint and in nobody's way. */
import { afterAll, afterEach, beforeAll, describe, expect, it } from 'vitest';
import { onScreen, settled, still, World } from './world';

const world = new World();
beforeAll(() => world.start());
afterEach(() => world.leave());
afterAll(() => world.stop());

type Document = {
  loudspeakers: Record<string, { line?: string; position: [number, number] }>;
  lines: Record<string, unknown>;
};

describe('a zone looked at alone', () => {
  it('has its lines and loudspeakers, on every plan, until everything is shown again', async () => {
    const { document } = await world.read<{ document: Document }>(`/jobs/${await world.job('example')}`);
    const [line] = Object.keys(document.lines);
    const job = await world.exampleWith([
      { op: 'add', path: '/zones', value: { z: { name: 'Upper terraces' } } },
      { op: 'add', path: `/lines/${line}/zone`, value: 'z' },
    ]);
    const placed = Object.entries(document.loudspeakers);
    const inside = placed.filter(([, l]) => l.line === line).map(([id]) => id);
    const outside = placed.filter(([, l]) => l.line && l.line !== line);
    expect(inside.length).toBeGreaterThan(0);
    expect(outside.length).toBeGreaterThan(0);
    const page = await world.person('Ada');
    await world.open(page, job, 'sound');
    await settled(page);
    const faint = () =>
      page
        .locator('.things .loudspeaker')
        .evaluateAll((all) =>
          all.filter((e) => e.classList.contains('faint')).map((e) => (e as SVGElement).dataset.id),
        );
    expect(await faint()).toEqual([]);
    await page.getByLabel('Zone', { exact: true }).selectOption('z');
    const seen = await faint();
    for (const id of inside) expect(seen).not.toContain(id);
    for (const [id] of outside) expect(seen).toContain(id);
    // A hand passes through what is faint.
    await still(page);
    const at = await onScreen(page, ...outside[0]![1].position);
    await page.mouse.click(at.x, at.y);
    expect(await page.getByRole('heading', { name: new RegExp(`^${outside[0]![0]}\\b`) }).count()).toBe(0);
    await world.open(page, job, 'cable');
    await settled(page);
    expect((await faint()).length).toBeGreaterThan(0);
    await page.getByRole('button', { name: 'Show everything' }).click();
    expect(await faint()).toEqual([]);
    expect(world.complaints).toEqual([]);
  });
});
