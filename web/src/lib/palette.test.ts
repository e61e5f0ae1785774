import { describe, expect, it } from 'vitest';
import { distance, linear, oklab, oklabOfLinear, srgb, type Triple } from './oklab';
import { bandsOf, css, levelColours, lightness, lookup, scaleFor, type Rgb } from './palette';

const unit = (rgb: Rgb): Triple => [rgb[0]! / 255, rgb[1]! / 255, rgb[2]! / 255];

/** What a dichromat sees, in linear light: Machado, Oliveira and Fernandes 2009, severity 1.0 (from memory). */
const BLIND: Record<string, number[][]> = {
  protan: [
    [0.152286, 1.052583, -0.204868],
    [0.114503, 0.786281, 0.099216],
    [-0.003882, -0.048116, 1.051998],
  ],
  deutan: [
    [0.367322, 0.860646, -0.227968],
    [0.280085, 0.672501, 0.047413],
    [-0.01182, 0.04294, 0.968881],
  ],
  tritan: [
    [1.255528, -0.076749, -0.178779],
    [-0.078411, 0.930809, 0.147602],
    [0.004733, 0.691367, 0.3039],
  ],
};
const seen = (rgb: Triple, matrix: number[][]): Triple => {
  const [r, g, b] = linear(rgb);
  const row = (m: number[]) => Math.max(0, m[0]! * r + m[1]! * g + m[2]! * b);
  return oklabOfLinear([row(matrix[0]!), row(matrix[1]!), row(matrix[2]!)]);
};

describe('OKLab', () => {
  it('has white at lightness 1 and black at 0, and comes back', () => {
    expect(oklab([1, 1, 1])[0]).toBeCloseTo(1, 4);
    expect(oklab([0, 0, 0])[0]).toBeCloseTo(0, 6);
    const clay: Triple = [0.525, 0.251, 0.122];
    srgb(oklab(clay)).forEach((u, i) => expect(u).toBeCloseTo(clay[i]!, 4));
  });
  it('has the published value of pure red (Ottosson 2020)', () => {
    const [L, a, b] = oklab([1, 0, 0]);
    expect([L, a, b].map((u) => Number(u.toFixed(3)))).toEqual([0.628, 0.225, 0.126]);
  });
});

describe.each(['pale', 'dark'] as const)('the level palette on %s ground', (ground) => {
  const colours = levelColours(12, ground);
  const lab = colours.map((c) => oklab(unit(c)));
  /** How far lightness goes from a step to the next, away from the ground. */
  const away = (from: Triple, to: Triple) => (to[0] - from[0]) * (ground === 'pale' ? -1 : 1);

  it('goes away from the ground at every step: the loudest stands out most', () => {
    lab.slice(1).forEach((c, i) => expect(away(lab[i]!, c)).toBeGreaterThan(0.02));
  });
  it('has steps that look alike, within a tenth', () => {
    const steps = lab.slice(1).map((c, i) => distance(c, lab[i]!));
    const mean = steps.reduce((s, x) => s + x) / steps.length;
    steps.forEach((s) => expect(Math.abs(s - mean) / mean).toBeLessThan(0.1));
  });
  it.each(Object.keys(BLIND))('stays in order and apart for %s eyes', (kind) => {
    const blind = colours.map((c) => seen(unit(c), BLIND[kind]!));
    blind.slice(1).forEach((c, i) => {
      expect(away(blind[i]!, c)).toBeGreaterThan(0);
      expect(distance(c, blind[i]!)).toBeGreaterThan(0.03);
    });
  });
  it('never goes to green: the green-red axis stays on one side beyond the pale end', () => {
    const fromPale = ground === 'pale' ? lab : [...lab].reverse();
    fromPale.slice(2).forEach((c) => expect(c[1]).toBeGreaterThan(0));
  });
  it('colours the map, opaque, as the legend: band by band', () => {
    const scale = scaleFor(81);
    const bands = bandsOf(scale, ground);
    const table = lookup(bands, scale);
    const bytes = new Uint8Array(table.buffer);
    expect(table.length).toBe(10 * (scale.high_db - scale.low_db));
    for (let tenth = 0; tenth < table.length; tenth++) {
      const [r, g, b, alpha] = bytes.subarray(4 * tenth, 4 * tenth + 4);
      expect(alpha).toBe(255);
      const level = scale.low_db + tenth / 10;
      const legend = bands.find((band) => level >= band.from_db && level < band.to_db)!;
      expect(`rgb(${r} ${g} ${b})`).toBe(css(legend.rgb));
    }
  });
});

describe('a scale', () => {
  it('ends on a whole band at or above the loudest', () => {
    expect(scaleFor(80.2)).toEqual({ low_db: 45, high_db: 81, step_db: 3 });
    expect(bandsOf(scaleFor(81), 'pale').map((b) => b.from_db)).toEqual([
      45, 48, 51, 54, 57, 60, 63, 66, 69, 72, 75, 78,
    ]);
  });
  it('knows white from black', () => {
    expect(lightness([255, 255, 255])).toBeCloseTo(1, 4);
    expect(lightness([0, 0, 0])).toBeCloseTo(0, 6);
  });
});
