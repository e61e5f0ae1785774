/** Where a line may start, which conductors it takes, and the edit that starts it elsewhere. */
import type { JobDocument } from '../api/document';
import type { Catalogue, LinesView } from '../api/shapes';
import { say } from '../words/spoken.svelte';
import { at, pointer, put, takeOut, type Patch } from './pointer';

/** The rack in which the amplifier of a line's channel stands. */
export function rackOfLine(doc: JobDocument, line: string): string | null {
  const channel = doc.channels[doc.lines[line]?.channel ?? ''];
  return doc.amplifiers[channel?.amplifier ?? '']?.rack ?? null;
}

/** Where a line starts: as said, or at the rack of its amplifier. */
export const startOf = (doc: JobDocument, line: string): string | null =>
  doc.lines[line]?.start ?? rackOfLine(doc, line);

/** The rack a stub-out's cable comes from: as said, or the only one there is. */
export function rackOfStub(doc: JobDocument, stub: string): string | null {
  const racks = Object.keys(doc.racks);
  return doc.stubs[stub]?.rack ?? (racks.length === 1 ? racks[0]! : null);
}

/** The conductors of a pair, by colour or number. */
export interface Pair {
  /** From 1. */
  number: number;
  positive: string;
  negative: string;
}

/** The pairs of a cable of the catalogue. */
export function pairsOf(catalogue: Catalogue | null, cable: string): Pair[] {
  const { conductors, colours } = (catalogue?.cables[cable] ?? {}) as {
    conductors?: number;
    colours?: string[];
  };
  const name = (n: number) => colours?.[n - 1] ?? String(n);
  return Array.from({ length: Math.floor((conductors ?? 0) / 2) }, (_, i) => ({
    number: i + 1,
    positive: name(2 * i + 1),
    negative: name(2 * i + 2),
  }));
}

export const pairWords = (p: Pair) =>
  say('{positive} positive, {negative} negative', { positive: say(p.positive), negative: say(p.negative) });

/** Who takes which pairs of a stub-out's cable, by line. */
export function takenAt(doc: JobDocument, lines: LinesView | null, stub: string): Record<string, number[]> {
  const given = (line: string) =>
    lines?.runs.find((r) => r.line === line && r.existing?.stub === stub)?.existing?.pairs;
  return Object.fromEntries(
    Object.entries(doc.lines)
      .filter(([, l]) => l.start === stub)
      .map(([id, l]) => [id, l.stub_pairs.length ? l.stub_pairs : (given(id) ?? [])]),
  );
}

/** Pairs of a stub-out's cable that may be used, and how many of them at most. */
export function freeAt(
  doc: JobDocument,
  catalogue: Catalogue | null,
  stub: string,
): { pairs: number[]; most: number } {
  const s = doc.stubs[stub];
  const all = pairsOf(catalogue, s?.cable ?? '').map((p) => p.number);
  const pairs = s?.free_pairs ? all.filter((n) => s.free_pairs!.includes(n)) : all;
  const conductors = s?.free_conductors;
  return {
    pairs,
    most: conductors == null ? pairs.length : Math.min(pairs.length, Math.floor(conductors / 2)),
  };
}

/** A place where a line may start, and why not where it may not. */
export interface Start {
  id: string;
  text: string;
  why_not: string | null;
}

export function startsOf(
  doc: JobDocument,
  catalogue: Catalogue | null,
  lines: LinesView | null,
  line: string,
): Start[] {
  const own = rackOfLine(doc, line);
  const called = (name: string | undefined) => (name ? `, ${name}` : '');
  const elsewhere = (rack: string | null) =>
    own && rack !== own ? say('its amplifier stands in rack {rack}', { rack: own }) : null;
  const racks = Object.entries(doc.racks).map(([id, r]) => ({
    id,
    text: say('Rack {id}', { id: `${id}${called(r.name)}` }),
    why_not: elsewhere(id),
  }));
  const stubs = Object.entries(doc.stubs).map(([id, s]) => {
    const rack = rackOfStub(doc, id);
    const { most } = freeAt(doc, catalogue, id);
    const others = Object.entries(takenAt(doc, lines, id)).filter(([other]) => other !== line);
    const left = most - others.reduce((sum, [, pairs]) => sum + Math.max(1, pairs.length), 0);
    return {
      id,
      text: say('Stub-out {id}, from rack {rack}', { id: `${id}${called(s.name)}`, rack: rack ?? '–' }),
      why_not: elsewhere(rack) ?? (left < 1 ? say('no pair is left') : null),
    };
  });
  return [...racks, ...stubs];
}

/**
 * The edit that starts a line elsewhere, and what it does to its cable. What led from the old start leads straight from the
 * new one. Cable that lies there already cannot be led from elsewhere: then a sentence says so.
 */
export function startAt(
  document: Record<string, unknown>,
  doc: JobDocument,
  line: string,
  to: string,
): { patch: Patch; told: string[] } | string {
  const from = startOf(doc, line);
  const path = pointer('lines', line);
  const runs = Object.entries(doc.lines[line]!.runs).filter(
    ([, r]) => from !== null && [r.from, r.to].includes(from),
  );
  const lies = runs.find(([, r]) => r.existing);
  if (lies)
    return say('Run {run} is cable that lies there already, from {from}: it cannot be led from {to}.', {
      run: lies[0],
      from: from ?? '',
      to,
    });
  const patch =
    to === rackOfLine(doc, line) ? takeOut(document, `${path}/start`) : put(document, `${path}/start`, to);
  patch.push(...takeOut(document, `${path}/stub_pairs`));
  for (const [id, r] of runs) {
    const typed = at(document, path + pointer('runs', id)) as Record<string, unknown>;
    // Its way, what was measured along it and what it was drawn through were of the cable from the old start.
    const { via: _via, length: _length, sleeves: _sleeves, fixed: _fixed, ...same } = typed;
    const value = r.from === from ? { ...same, from: to } : { ...same, to };
    patch.push({ op: 'replace', path: path + pointer('runs', id), value });
  }
  const names = runs.map(([id]) => id);
  const told = [say('Line {line} starts at {start}.', { line, start: to })];
  if (names.length === 1)
    told.push(
      say('Run {run} leads straight from there until "Route again" finds the way.', { run: names[0]! }),
    );
  if (names.length > 1)
    told.push(
      say('Runs {runs} lead straight from there until "Route again" finds the way.', {
        runs: names.join(', '),
      }),
    );
  return { patch, told };
}

/** The edit by which a line takes other pairs of the cable it starts at; a pair another line has is swapped with it. */
export function takePairs(
  document: Record<string, unknown>,
  taken: Record<string, number[]>,
  line: string,
  pairs: number[],
): Patch {
  const mine = taken[line] ?? [];
  const patch: Patch = [];
  const set = (id: string, value: number[]) =>
    patch.push(
      ...put(
        document,
        pointer('lines', id, 'stub_pairs'),
        [...value].sort((a, b) => a - b),
      ),
    );
  const left = mine.filter((n) => !pairs.includes(n));
  for (const [other, theirs] of Object.entries(taken)) {
    if (other === line || !theirs.some((n) => pairs.includes(n))) continue;
    set(
      other,
      theirs.map((n) => (pairs.includes(n) ? left.shift()! : n)),
    );
  }
  set(line, pairs);
  return patch;
}
