/** A garden of nine kinds of things, drawn by a hand that does not type, its clicks counted. */
import { afterAll, afterEach, beforeAll, describe, expect, it } from 'vitest';
import { Hand, type Point } from './sketch';
import { still, World } from './world';

const world = new World();
beforeAll(() => world.start());
afterEach(() => world.leave());
afterAll(() => world.stop());

interface Document {
  buildings: Record<string, { outline: Point[] }>;
  surfaces: Record<string, { name: string; kind: string; outline: Point[] }>;
  areas: Record<string, { outline: Point[] }>;
  racks: Record<string, { position: Point }>;
  stubs: Record<string, { position: Point; rack?: string }>;
  neighbours: Record<string, { line: Point[] }>;
}

/** What somebody with a tape in the other hand puts up with. */
const MOST_CLICKS = 40;
const MOST_S = 240;

const corners = (a: Point, b: Point) => [a, [b[0], a[1]], b, [a[0], b[1]]].map(String).sort();

describe('a garden', () => {
  it('of house, terrace, basin, two beds, two listening areas, rack, stub-out and neighbour takes 40 clicks at most', async () => {
    const job = await world.job('empty', 'Medlar Garden');
    const page = await world.person('Ada');
    await world.open(page, job, 'site');
    await still(page);
    const hand = new Hand(page);
    const started = Date.now();

    await hand.tool('Rectangle');
    await hand.tool('Building');
    await hand.points([4, 13], [16, 18]);
    await hand.saved();
    await hand.tool('Surface');
    await hand.points([18, 13], [24, 18]);
    await hand.saved();
    await hand.tool('Surface');
    await hand.kind('paving');
    // The terrace begins at the corner of the house.
    await hand.points([4, 13], [16, 9]);
    await hand.saved();
    await hand.tool('Listening area');
    await hand.points([5, 10], [15, 12]);
    await hand.saved();
    await hand.tool('Listening area');
    await hand.points([6, 5], [15, 8]);
    await hand.saved();
    await hand.tool('Rack');
    await hand.at(6, 15);
    await hand.saved();
    await hand.tool('Stub-out');
    await hand.at(17, 8);
    await hand.saved();
    await hand.tool('Circle');
    await hand.tool('Surface');
    await hand.kind('water');
    await hand.points([20, 8], [22, 8]);
    await hand.saved();
    await hand.tool('Neighbour');
    await hand.ended([27, 6], [27, 16]);
    await hand.saved();
    await hand.tool('Curve');
    await hand.kind('bed');
    await hand.ended([1, 6], [3, 9], [2, 14], [0.5, 10]);
    await page.getByRole('heading', { name: /^Bed 2/ }).waitFor();
    await hand.saved();

    const took_s = (Date.now() - started) / 1000;
    console.log(
      `a garden of ten things: ${hand.clicks} clicks, ${took_s.toFixed(0)} s without pauses for thought`,
    );
    expect(hand.clicks).toBeLessThanOrEqual(MOST_CLICKS);
    expect(took_s).toBeLessThan(MOST_S);

    const { document } = await world.read<{ document: Document }>(`/jobs/${job}`);
    const outline = (thing: { outline: Point[] }) => thing.outline.map(String).sort();
    expect(Object.values(document.buildings).map(outline)).toEqual([corners([4, 13], [16, 18])]);
    expect(Object.values(document.areas).map(outline)).toEqual([
      corners([5, 10], [15, 12]),
      corners([6, 5], [15, 8]),
    ]);
    const [bed, terrace, basin, curved] = Object.values(document.surfaces);
    expect([bed, terrace, basin, curved].map((s) => s!.kind)).toEqual(['bed', 'paving', 'water', 'bed']);
    // Nobody named them: they go by what they are.
    expect([bed, terrace, basin, curved].map((s) => s!.name)).toEqual(['Bed', 'Paving', 'Water', 'Bed 2']);
    expect(outline(bed!)).toEqual(corners([18, 13], [24, 18]));
    expect(outline(terrace!)).toEqual(corners([4, 13], [16, 9]));
    for (const [x, y] of basin!.outline) expect(Math.hypot(x - 20, y - 8)).toBeCloseTo(2, 3);
    for (const p of [[1, 6], [3, 9], [2, 14], [0.5, 10]]) expect(curved!.outline).toContainEqual(p); // prettier-ignore
    expect(curved!.outline.length).toBeGreaterThan(8);
    expect(Object.values(document.racks).map((r) => r.position)).toEqual([[6, 15]]);
    expect(Object.values(document.stubs)).toMatchObject([{ position: [17, 8], rack: 'R1' }]);
    expect(Object.values(document.neighbours)).toMatchObject([
      {
        line: [
          [27, 6],
          [27, 16],
        ],
      },
    ]);
    expect(world.complaints).toEqual([]);
  });
});
