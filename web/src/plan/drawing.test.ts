import { describe, expect, it } from 'vitest';
import type { JobDocument } from '../api/document';
import { distance, type Point } from '../lib/geometry';
import { Drawing } from './drawing.svelte';
import { TOOLS } from './tools';

const tool = (key: string) => TOOLS.find((t) => t.key === key)!;
const TABLES = [
  'surfaces',
  'buildings',
  'areas',
  'no_go',
  'walls',
  'services',
  'sleeves',
  'marks',
  'racks',
  'passages',
  'stubs',
  'joints',
];
const doc = (of: Record<string, unknown> = {}) =>
  ({ site: {}, ...Object.fromEntries(TABLES.map((t) => [t, {}])), ...of }) as unknown as JobDocument;
const made = (drawing: Drawing, on = doc()) => {
  const edit = drawing.patch({}, { doc: on, catalogue: null });
  if (!edit || typeof edit === 'string') throw new Error(String(edit));
  return Object.values(edit.patch[0]!.value as Record<string, Record<string, unknown>>)[0]!;
};

describe('a rectangle', () => {
  it('is two points, and its kind is what was said before', () => {
    const drawing = new Drawing();
    drawing.inForm('rectangle');
    drawing.start(tool('surface'));
    drawing.ofKind('paving');
    expect(drawing.add([1, 2])).toBe(false);
    expect(drawing.complete).toBe(false);
    expect(drawing.add([5, 4])).toBe(true);
    expect(made(drawing)).toEqual({
      name: 'Paving',
      kind: 'paving',
      outline: [
        [1, 2],
        [5, 2],
        [5, 4],
        [1, 4],
      ],
    });
  });

  it('of ground on other ground lies as high as what it is drawn on', () => {
    const square = (from: number, to: number) => [
      [from, from],
      [to, from],
      [to, to],
      [from, to],
    ];
    const slope = doc({
      surfaces: {
        low: { outline: square(0, 40), kind: 'lawn', elevation: 1 },
        upper: { outline: square(0, 20), kind: 'lawn', elevation: 2.1336 },
      },
    });
    const drawn = (a: Point, b: Point) => {
      const drawing = new Drawing();
      drawing.inForm('rectangle');
      drawing.start(tool('surface'));
      drawing.add(a);
      drawing.add(b);
      return made(drawing, slope).elevation;
    };
    expect(drawn([4, 4], [8, 8])).toBe(2.1336);
    expect(drawn([24, 24], [28, 28])).toBe(1);
    expect(drawn([44, 44], [48, 48])).toBeUndefined();
  });

  it('begun on a side lies along it, at round lengths', () => {
    // A wall 12 m east and 5 m north, 13 m long; begun 6.5 m along it at (6, 2.5).
    const with_wall = doc({
      walls: {
        w: {
          line: [
            [0, 0],
            [12, 5],
          ],
        },
      },
    });
    const drawing = new Drawing();
    drawing.inForm('rectangle');
    drawing.start(tool('area'));
    drawing.hover([6.1, 2.4], with_wall, 0.3);
    drawing.add(drawing.cursor!.at, with_wall);
    // 3.02 m along the wall and 2.03 m to its left, that is 3 m and 2 m.
    const [first] = drawing.points as [Point];
    const u: Point = [12 / 13, 5 / 13];
    const at = (along: number, left: number): Point => [
      first[0] + along * u[0] - left * u[1],
      first[1] + along * u[1] + left * u[0],
    ];
    drawing.hover(at(3.02, 2.03), with_wall, 0.3);
    expect(distance(drawing.cursor!.at, at(3, 2))).toBeLessThan(1e-3);
    expect(drawing.add(drawing.cursor!.at, with_wall)).toBe(true);
    expect(drawing.way).toHaveLength(4);
    expect(distance(drawing.way[1]!, at(3, 0))).toBeLessThan(1e-3);
  });

  it('without a width is refused, and what was set stays', () => {
    const drawing = new Drawing();
    drawing.inForm('rectangle');
    drawing.start(tool('area'));
    drawing.add([1, 2]);
    expect(drawing.add([5, 2])).toBe(false);
    expect(drawing.problem).toMatch(/a length and a width/);
    expect(drawing.points).toEqual([[1, 2]]);
  });
});

it('a circle is kept as points on it', () => {
  const drawing = new Drawing();
  drawing.inForm('circle');
  drawing.start(tool('surface'));
  drawing.add([10, 10]);
  expect(drawing.add([13, 14])).toBe(true);
  // 3 and 4: a radius of 5 m.
  for (const p of made(drawing).outline as Point[]) expect(distance(p, [10, 10])).toBeCloseTo(5, 3);
});

it('a curve goes through its points, closed for an outline and open for a wall', () => {
  const points: Point[] = [
    [0, 0],
    [6, -1],
    [9, 4],
  ];
  const drawing = new Drawing();
  drawing.inForm('curve');
  for (const [key, geometry] of [
    ['surface', 'outline'],
    ['wall', 'line'],
  ] as const) {
    drawing.start(tool(key));
    for (const p of points) drawing.add(p);
    const way = made(drawing)[geometry] as Point[];
    for (const p of points) expect(way).toContainEqual(p);
    expect(way.length).toBeGreaterThan(6);
    const open = distance(way.at(-1)!, [9, 4]) < 1e-6;
    expect(open).toBe(key === 'wall');
  }
});

it('a form that does not suit the tool waits until one comes that has it', () => {
  const drawing = new Drawing();
  drawing.inForm('rectangle');
  drawing.start(tool('rack'));
  expect(drawing.as).toBe('corners');
  expect(drawing.add([1, 1])).toBe(true);
  drawing.start(tool('building'));
  expect(drawing.as).toBe('rectangle');
});
