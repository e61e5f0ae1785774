/** What a new route takes away, moves or makes besides the ways of the cable, in sentences. */
import type { JobDocument, Run } from '../api/document';
import { listing, say } from '../words/spoken.svelte';
import { parts, type Patch } from './pointer';
import { runLength } from './told';
import type { LengthUnit } from './units';

type Typed = { from: string; to: string; length?: unknown; cable?: unknown };

export function routeChanges(doc: JobDocument, edit: Patch, unit: LengthUnit): string[] {
  const told: string[] = [];
  const at = (op: string, table: string, key?: string) =>
    edit
      .filter((o) => o.op === op)
      .map((o) => ({ keys: parts(o.path), value: o.value }))
      .filter(({ keys }) => keys[0] === table && (key === undefined ? keys.length === 2 : keys[2] === key));
  const ids = (found: { keys: string[] }[]) => found.map(({ keys }) => keys[1]!);

  const gone = ids(at('remove', 'joints'));
  if (gone.length === 1)
    told.push(say('Joint {joint} goes: no cable ends at it any more.', { joint: gone[0]! }));
  if (gone.length > 1)
    told.push(say('Joints {joints} go: no cable ends at them any more.', { joints: listing(gone) }));
  const made = ids(at('add', 'joints'));
  if (made.length === 1) told.push(say('Joint {joint} is new.', { joint: made[0]! }));
  if (made.length > 1) told.push(say('Joints {joints} are new.', { joints: listing(made) }));
  for (const { keys, value } of [...at('add', 'lines', 'start'), ...at('replace', 'lines', 'start')])
    told.push(say('Line {line} then starts at {start}.', { line: keys[1]!, start: String(value) }));
  for (const { keys } of at('remove', 'lines', 'start'))
    told.push(say('Line {line} then starts at the rack of its amplifier.', { line: keys[1]! }));
  for (const { keys, value } of at('add', 'loudspeakers', 'line'))
    told.push(say('Loudspeaker {tag} is put on line {line}.', { tag: keys[1]!, line: String(value) }));

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
          say('The length stated for run {run}, {length}, goes: it is worked out from the new way.', {
            run: id,
            length: runLength(measured, unit),
          }),
        );
      if (old.cable !== null && old.cable !== l.cable && same(old)?.cable === undefined)
        told.push(
          say('Run {run} is then of the line\'s own cable, no longer of "{cable}".', {
            run: id,
            cable: old.cable,
          }),
        );
    }
  }
  return told;
}
