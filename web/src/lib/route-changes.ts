/** What a new route takes away, moves or makes besides the ways of the cable, in sentences. */
import type { JobDocument, Run } from '../api/document';
import { parts, type Patch } from './pointer';
import { runLength } from './told';
import type { LengthUnit } from './units';

type Typed = { from: string; to: string; length?: unknown; cable?: unknown };
const and = (names: string[]) =>
  names.length < 2 ? (names[0] ?? '') : `${names.slice(0, -1).join(', ')} and ${names.at(-1)}`;
const named = (one: string, names: string[]) => `${one}${names.length > 1 ? 's' : ''} ${and(names)}`;

export function routeChanges(doc: JobDocument, edit: Patch, unit: LengthUnit): string[] {
  const told: string[] = [];
  const at = (op: string, table: string, key?: string) =>
    edit
      .filter((o) => o.op === op)
      .map((o) => ({ keys: parts(o.path), value: o.value }))
      .filter(({ keys }) => keys[0] === table && (key === undefined ? keys.length === 2 : keys[2] === key));
  const ids = (found: { keys: string[] }[]) => found.map(({ keys }) => keys[1]!);

  const gone = ids(at('remove', 'joints'));
  if (gone.length) {
    const [go, them] = gone.length > 1 ? ['go', 'them'] : ['goes', 'it'];
    told.push(`${named('Joint', gone)} ${go}: no cable ends at ${them} any more.`);
  }
  const made = ids(at('add', 'joints'));
  if (made.length) told.push(`${named('Joint', made)} ${made.length > 1 ? 'are' : 'is'} new.`);
  for (const { keys, value } of [...at('add', 'lines', 'start'), ...at('replace', 'lines', 'start')])
    told.push(`Line ${keys[1]} then starts at ${String(value)}.`);
  for (const { keys } of at('remove', 'lines', 'start'))
    told.push(`Line ${keys[1]} then starts at the rack of its amplifier.`);
  for (const { keys, value } of at('add', 'loudspeakers', 'line'))
    told.push(`Loudspeaker ${keys[1]} is put on line ${String(value)}.`);

  for (const [line, l] of Object.entries(doc.lines)) {
    const laid = at('add', 'lines', 'runs').find(({ keys }) => keys[1] === line);
    if (!laid) continue;
    const now = Object.values((laid.value ?? {}) as Record<string, Typed>);
    const same = (old: Run) =>
      now.find((r) => [r.from, r.to].sort().join('/') === [old.from, old.to].sort().join('/'));
    for (const [id, old] of Object.entries(l.runs)) {
      const measured = old.length;
      if (measured !== null && same(old)?.length === undefined)
        told.push(
          `The length stated for run ${id}, ${runLength(measured, unit)}, goes: it is worked out from the new way.`,
        );
      if (old.cable !== null && old.cable !== l.cable && same(old)?.cable === undefined)
        told.push(`Run ${id} is then of the line's own cable, no longer of "${old.cable}".`);
    }
  }
  return told;
}
