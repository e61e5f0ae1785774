import { expect, it } from 'vitest';
import { CHOOSE_KEY, FORMS, JOINT, TOOLS } from '../plan/tools';
import { KEYS } from './keys';

it('no two tools of one plan share a key, nor one with choosing several or a figure', () => {
  const taken = [CHOOSE_KEY, 'm', ...[...FORMS, ...TOOLS, JOINT].map((t) => t.hotkey)];
  expect(new Set(taken).size).toBe(taken.length);
  for (const key of taken) expect(key).toMatch(/^[a-z]$/);
});

it('the list has every tool with its key', () => {
  const listed = KEYS.flatMap((g) => g.keys.map(([keys, does]) => `${keys.join()} ${does}`));
  for (const t of [...FORMS, ...TOOLS, JOINT])
    expect(listed).toContain(`${t.hotkey.toUpperCase()} ${t.label}`);
});

it('what a tool is called where there is little room is part of its name', () => {
  for (const t of [...TOOLS, JOINT]) expect(t.label.toLowerCase()).toContain(t.short.toLowerCase());
});
