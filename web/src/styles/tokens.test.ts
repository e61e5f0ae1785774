import { readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { linear, type Triple } from '../lib/oklab';

const sheet = readFileSync(`${import.meta.dirname}/tokens.css`, 'utf8');

/** The colours of a scheme, by name. */
function colours(selector: string): Record<string, string> {
  const from = sheet.indexOf(`${selector} {`);
  expect(from, selector).toBeGreaterThanOrEqual(0);
  const block = sheet.slice(from, sheet.indexOf('}', from));
  return Object.fromEntries(
    [...block.matchAll(/--([\w-]+): (#[0-9a-f]{6});/g)].map(([, name, hex]) => [name!, hex!]),
  );
}

/** Relative luminance and contrast as WCAG 2.2 defines them (its threshold of 0.03928 makes no difference in 8 bits). */
const luminance = (hex: string) => {
  const rgb = [1, 3, 5].map((i) => Number.parseInt(hex.slice(i, i + 2), 16) / 255) as unknown as Triple;
  const [r, g, b] = linear(rgb);
  return 0.2126 * r + 0.7152 * g + 0.0722 * b;
};
const contrast = (a: string, b: string) => {
  const [high, low] = [luminance(a), luminance(b)].sort((p, q) => q - p) as [number, number];
  return (high + 0.05) / (low + 0.05);
};

it('contrast is what it is defined to be', () => {
  expect(contrast('#ffffff', '#000000')).toBeCloseTo(21, 6);
  // A well-known grey that just meets 4.5:1 on white.
  expect(contrast('#767676', '#ffffff')).toBeCloseTo(4.54, 2);
});

describe.each([
  [':root', 4.5],
  [":root[data-theme='dark']", 4.5],
  [":root[data-theme='outdoor']", 7],
])('%s', (selector, least) => {
  const all = { ...colours(':root'), ...colours(selector) };
  it.each([
    ['ink', ['paper', 'sheet', 'sunk']],
    ['quiet', ['paper', 'sheet']],
    ['clay', ['paper', 'sheet']],
    ['clay-ink', ['clay']],
    ['moss', ['moss-soft']],
    ['error', ['sheet', 'error-soft']],
    ['warning', ['sheet', 'warning-soft']],
    ['note', ['sheet', 'note-soft']],
  ])('%s is read on its grounds', (text, grounds) => {
    for (const ground of grounds)
      expect(contrast(all[text]!, all[ground]!), ground).toBeGreaterThanOrEqual(least);
  });
});

it('outdoors every colour is said, and lines stand out', () => {
  const [usual, outdoor] = [colours(':root'), colours(":root[data-theme='outdoor']")];
  expect(Object.keys(usual).filter((name) => !(name in outdoor))).toEqual([]);
  for (const line of ['hair', 'edge', 'masonry', 'hedge', 'area', 'focus', 'slate'])
    expect(contrast(outdoor[line]!, outdoor.paper!), line).toBeGreaterThanOrEqual(4.5);
});
