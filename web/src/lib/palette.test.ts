import { describe, expect, it } from 'vitest';
import { distance, linear, oklab, oklabOfLinear, srgb, type Triple } from './oklab';
import { bandsOf, levelColours, lookup, scaleFor } from './palette';

const unit = (rgb: number[]): Triple => [rgb[0]! / 255, rgb[1]! / 255, rgb[2]! / 255];

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

describe('the level palette', () => {
  const lab = levelColours(12).map((c) => oklab(unit(c)));

  it('gets darker at every step', () => {
    lab.slice(1).forEach((c, i) => expect(c[0]).toBeLessThan(lab[i]![0] - 0.02));
  });
  it('has steps that look alike, within a tenth', () => {
    const steps = lab.slice(1).map((c, i) => distance(c, lab[i]!));
    const mean = steps.reduce((s, x) => s + x) / steps.length;
    steps.forEach((s) => expect(Math.abs(s - mean) / mean).toBeLessThan(0.1));
  });
  it.each(Object.keys(BLIND))('stays in order and apart for %s eyes', (kind) => {
    const blind = levelColours(12).map((c) => seen(unit(c), BLIND[kind]!));
    blind.slice(1).forEach((c, i) => {
      expect(c[0]).toBeLessThan(blind[i]![0]);
      expect(distance(c, blind[i]!)).toBeGreaterThan(0.03);
    });
  });
  it('never goes to green: the green-red axis stays on one side beyond the pale end', () => {
    lab.slice(2).forEach((c) => expect(c[1]).toBeGreaterThan(0));
  });
});

describe('a scale', () => {
  it('ends on a whole band at or above the loudest', () => {
    expect(scaleFor(80.2)).toEqual({ low_db: 45, high_db: 81, step_db: 3 });
    expect(bandsOf(scaleFor(81)).map((b) => b.from_db)).toEqual([
      45, 48, 51, 54, 57, 60, 63, 66, 69, 72, 75, 78,
    ]);
  });
  it('looks colours up by tenths', () => {
    const table = lookup(scaleFor(81), 1);
    expect(table.length).toBe(360);
    expect(table[29]).toBe(table[0]);
    expect(table[30]).not.toBe(table[0]);
  });
});
