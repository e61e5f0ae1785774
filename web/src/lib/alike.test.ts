import { expect, test } from 'vitest';
import type { Finding } from '../api/shapes';
import { entries } from './alike';

const finding = (id: string, severity: Finding['severity'] = 'note') =>
  ({
    severity,
    about: { table: 'areas', id },
    sentence: `Echoes may be heard in ${id}.`,
    mend: null,
  }) as Finding;
const ids = (all: Finding[]) => all.map((f) => f.about.id);

test('three findings that are alike are one entry with the others behind it', () => {
  const all = [finding('a'), finding('b', 'error'), finding('c'), finding('d')];
  const list = entries(all, [
    { severity: 'note', table: 'areas', findings: [0, 2, 3] },
    { severity: 'error', table: 'areas', findings: [1] },
  ]);
  expect(list.map((e) => e.finding.about.id)).toEqual(['b', 'a']);
  expect(ids(list[1]!.others)).toEqual(['c', 'd']);
});

test('two that are alike stand by themselves', () => {
  const list = entries(
    [finding('a'), finding('b')],
    [{ severity: 'note', table: 'areas', findings: [0, 1] }],
  );
  expect(list.map((e) => e.others.length)).toEqual([0, 0]);
});

test('nothing is lost where the places are of another list', () => {
  const all = [finding('a'), finding('b'), finding('c')];
  const list = entries(all, [{ severity: 'note', table: 'areas', findings: [0, 1] }]);
  expect(ids(list.map((e) => e.finding))).toEqual(['a', 'b', 'c']);
});
