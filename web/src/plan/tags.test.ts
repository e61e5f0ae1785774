import { describe, expect, it } from 'vitest';
import type { JobDocument, Thing } from '../api/document';
import type { Point } from '../lib/geometry';
import { placedLabels } from './labels';

const at = (position: Point) => ({ position });
const doc = {
  loudspeakers: { L1: at([0, 0]), L2: at([9, 0]), L3: at([9, 0.02]) },
  racks: {},
  stubs: {},
  joints: {},
  areas: {},
  neighbours: {},
  buildings: {},
  marks: {},
} as unknown as JobDocument;
const view = { project: ([x, y]: Point): Point => [20 * x, -20 * y] };
const speaker = (id: string | null): Thing | null => (id ? { table: 'loudspeakers', id } : null);
const texts = (focus: 'site' | 'sound', chosen: string | null, hovered: string | null = null) =>
  placedLabels(doc, view, { focus, size: 1, chosen: speaker(chosen), hovered: speaker(hovered) }).labels.map(
    (l) => l.text,
  );

describe('tags of loudspeakers', () => {
  it('stand together where they stand in one place: none is hidden', () => {
    expect(texts('sound', null)).toEqual(['L1', 'L2 + L3']);
    expect(texts('sound', 'L3')).toEqual(['L2 + L3', 'L1']);
  });
  it('are shown on the site where one is chosen', () => {
    expect(texts('site', null)).toEqual([]);
    expect(texts('site', 'L3')).toEqual(['L2 + L3']);
    expect(texts('site', null, 'L1')).toEqual(['L1']);
  });
});

describe('what somebody called a thing with a tag', () => {
  const racks = { R1: { ...at([10, 4]), name: 'Plant room behind the kitchen' }, R2: at([20, 4]) };
  const stubs = { T1: { ...at([30, 4]), name: 'T1' } };
  const placed = (more: object = {}, width = 2000) =>
    placedLabels(
      { ...doc, racks, stubs, ...more } as unknown as JobDocument,
      { ...view, width },
      { focus: 'cable', size: 1, chosen: null, hovered: null },
    ).labels;
  const saying = (labels: ReturnType<typeof placed>) => labels.map(({ text, more }) => [text, more]);

  it('stands below its tag, shortened where it is long, and only where it says more than the tag', () => {
    expect(saying(placed())).toEqual([
      ['L1', null],
      ['L2 + L3', null],
      ['R1', 'Plant room behind the k…'],
      ['R2', null],
      ['T1', null],
    ]);
  });
  it('takes no tag away: where there is no room below, the tag stands alone', () => {
    // 20 px for a metre: a joint 2.5 m below the rack is in the way of a second line, and keeps its own tag.
    const labels = saying(placed({ joints: { J1: at([10, 1.5]) } }));
    expect(labels).toContainEqual(['R1', null]);
    expect(labels).toContainEqual(['J1', null]);
  });
  it('is not cut by the edge of the plan', () => {
    const near = { R1: { ...racks.R1, position: [0.8, 4] } };
    expect(saying(placed({ racks: near }))).toContainEqual(['R1', null]);
  });
});

describe('labels in a crowd', () => {
  /** A row of loudspeakers so near to each other that not every tag has room, with a joint and an area among them. */
  const crowd = {
    ...doc,
    loudspeakers: Object.fromEntries(Array.from({ length: 24 }, (_, i) => [`L${i + 1}`, at([0.5 * i, 0])])),
    joints: { J1: at([4, 0.8]), J2: at([4.2, 0.8]) },
    areas: { lawn: { name: 'Lawn by the house', outline: [[0, -1], [20, -1], [20, 1], [0, 1]] } }, // prettier-ignore
  } as unknown as JobDocument;
  const placed = (chosen: Thing | null, hovered: Thing | null = null) =>
    placedLabels(crowd, view, { focus: 'sound', size: 1, chosen, hovered }).labels;
  /** Half the width and height a text takes at least: letters of 12 px are 5 px wide and 12 high or more. */
  const half = (text: string): Point => [2.5 * text.length, 6];
  const over = (a: { x: number; y: number; text: string }, b: typeof a) =>
    Math.abs(a.x - b.x) < half(a.text)[0] + half(b.text)[0] && Math.abs(a.y - b.y) < 12;

  it('lie over each other nowhere, nor over a symbol', () => {
    const labels = placed(null);
    expect(labels.length).toBeGreaterThan(8);
    labels.forEach((a, i) =>
      labels.slice(i + 1).forEach((b) => expect(over(a, b), `${a.text}, ${b.text}`).toBe(false)),
    );
    for (const { x, y, text } of labels)
      for (const { position } of [...Object.values(crowd.loudspeakers), ...Object.values(crowd.joints)]) {
        const [sx, sy] = view.project(position);
        const [w, h] = half(text);
        expect(Math.abs(sx - x) < w + 6 && Math.abs(sy - y) < h + 6, text).toBe(false);
      }
  });
  it('that have no room are shown for what is chosen and under a hand', () => {
    const shown = placed(null).map((l) => l.text);
    const hidden = Object.keys(crowd.loudspeakers).find((id) => !shown.includes(id))!;
    expect(hidden).toBeTruthy();
    expect(placed(speaker(hidden))[0]!.text).toBe(hidden);
    const hovered = placed(null, speaker(hidden));
    expect(hovered.at(-1)).toMatchObject({ text: hidden, raised: true });
    // Nobody else's moves for it.
    expect(hovered.slice(0, -1).map((l) => l.text)).toEqual(shown);
  });
  it('are not cut by the edge of the plan', () => {
    const edge = {
      ...doc,
      areas: {},
      racks: { 'Boathouse rack': at([0.2, 0]) },
      loudspeakers: {},
    } as unknown as JobDocument;
    const [label] = placedLabels(
      edge,
      { ...view, width: 400 },
      { focus: 'sound', size: 1, chosen: null, hovered: null },
    ).labels;
    expect(label!.x - half(label!.text)[0]).toBeGreaterThan(0);
  });
});
