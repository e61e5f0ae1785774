/** Names and tags on the plan: the important ones first, none over another or over a symbol. */
import type { JobDocument, Neighbour, Table, Thing } from '../api/document';
import type { NeighbourFigures } from '../api/live';
import { cut, givenName } from '../lib/called';
import { centre, type Point } from '../lib/geometry';
import { nearEach } from '../lib/near';
import { scale } from '../lib/scale.svelte';
import { inPlaceOf } from '../lib/stakes';
import { db, dba, NOTHING_DB } from '../lib/units';
import { say } from '../words/spoken.svelte';
import { CLUSTER_PX } from './crowd';
import { LETTER_PX, LINE_PX, Room, textBox, type Box } from './room';
import type { PlanView } from './view.svelte';

export interface Label {
  key: string;
  text: string;
  /** A second line below the first. */
  more: string | null;
  kind: 'area-name' | 'name' | 'tag' | 'small';
  /** Whether it is that of what is chosen. */
  chosen: boolean;
  /** Whether it is shown over others while a hand is on its thing. */
  raised: boolean;
  /** Middle of the first line, px. */
  x: number;
  y: number;
}

/** What a plan wants to be labelled by. */
export interface Wishes {
  focus: 'site' | 'sound' | 'cable';
  /** How large symbols are drawn. */
  size: number;
  chosen: Thing | null;
  /** What a hand is on. */
  hovered: Thing | null;
  /** Levels at neighbours, where they are worked out. */
  neighbours?: Readonly<Record<string, NeighbourFigures>> | undefined;
  /** Whether a thing is drawn by itself; all are where nothing is said. */
  shown?: ((thing: Thing) => boolean) | undefined;
  /** Discs that stand for several. */
  clusters?: readonly { at: Point }[] | undefined;
}

/** The labels that fit, and all the room that is taken by them and by symbols. */
export interface Placing {
  labels: Label[];
  room: Room;
}

/** How large symbols are drawn at so many pixels per metre: they shrink a little on a plan seen from far. */
export const symbolSize = (k: number) => scale.of * Math.min(1.25, Math.max(0.62, k / scale.of / 22));

/** Half the side of a symbol, px at its usual size. */
const SYMBOL_PX = 11;
/** What is cut at the edge of the plan cannot be read, px. */
const EDGE_PX = 4;

interface Wanted extends Omit<Label, 'x' | 'y' | 'raised'> {
  things: Thing[];
  /** What somebody called a thing that goes by its tag: below the tag where there is room. */
  name: string;
  /** Places for its middle, the best first. */
  stands: Point[];
}

const isOf = (things: readonly Thing[], thing: Thing | null) =>
  things.some((t) => t.table === thing?.table && t.id === thing.id);

/** Labels that fit, in the order of what they matter; what is chosen always has its own. Loudspeakers in one place share one. */
export function placedLabels(
  doc: JobDocument,
  view: Pick<PlanView, 'project'> & { width?: number },
  wishes: Wishes,
): Placing {
  const wanted = wantedLabels(doc, view, wishes);
  wanted.sort((a, b) => Number(b.chosen) - Number(a.chosen));
  const room = new Room();
  for (const box of symbols(doc, view, wishes)) room.take(box);
  const labels: Label[] = [];
  const named: { label: Label; name: string }[] = [];
  for (const { stands, things, name, ...label } of wanted) {
    const places = stands.map((p) => inSight(p, label, view.width));
    const fits = places.find((p) => room.empty(boxOf(p, label)));
    const raised = !fits && isOf(things, wishes.hovered);
    if (!fits && !label.chosen && !raised) continue;
    const at = fits ?? places[0]!;
    // What is shown over others for a moment takes nobody's place.
    if (!raised) room.take(boxOf(at, label));
    const placed: Label = { ...label, raised, x: at[0], y: at[1] };
    labels.push(placed);
    if (fits && name) named.push({ label: placed, name });
  }
  // Names come after every tag: none is left out for them.
  for (const { label, name } of named) addName(label, name, room, view.width);
  // Drawn last, over the others.
  labels.sort((a, b) => Number(a.raised) - Number(b.raised));
  return { labels, room };
}

/** Writes a name below its tag, where that is free and the edge of the plan does not cut it. */
function addName(label: Label, name: string, room: Room, width = 0) {
  // Half a pixel lower than the next line: the two touch, and do not meet.
  const box = textBox([label.x, label.y + (LINE_PX + 0.5) * scale.of], name, scale.of);
  if (width && (box.left < EDGE_PX || box.right > width - EDGE_PX)) return;
  if (!room.empty(box)) return;
  room.take(box);
  label.more = name;
}

const longest = ({ text, more }: Pick<Label, 'text' | 'more'>) =>
  (more?.length ?? 0) > text.length ? more! : text;

function boxOf([x, y]: Point, label: Pick<Label, 'text' | 'more'>): Box {
  const lines = label.more ? 2 : 1;
  return textBox([x, y + ((lines - 1) * LINE_PX * scale.of) / 2], longest(label), scale.of, lines);
}

/** A place moved along so that the edge of the plan does not cut the text, where its thing is in sight. */
function inSight([x, y]: Point, label: Pick<Label, 'text' | 'more'>, width = 0): Point {
  const half = (LETTER_PX * scale.of * longest(label).length) / 2 + EDGE_PX;
  if (!width || x < 0 || x > width || 2 * half > width) return [x, y];
  return [Math.min(width - half, Math.max(half, x)), y];
}

/** The boxes of what is drawn as a symbol. */
function* symbols(doc: JobDocument, view: Pick<PlanView, 'project'>, wishes: Wishes): Generator<Box> {
  const half = SYMBOL_PX * wishes.size;
  const around = (place: Point, by: number): Box => {
    const [x, y] = view.project(place);
    return { left: x - by, right: x + by, top: y - by, bottom: y + by };
  };
  for (const table of ['loudspeakers', 'racks', 'stubs', 'joints', 'passages', 'marks'] as const)
    for (const [id, { position }] of Object.entries(doc[table] ?? {}))
      if (wishes.shown?.({ table, id }) !== false) yield around(position, half);
  for (const n of Object.values(doc.neighbours)) for (const place of n.points) yield around(place, half);
  for (const { at } of wishes.clusters ?? []) yield around(at, CLUSTER_PX * scale.of);
}

function wantedLabels(doc: JobDocument, view: Pick<PlanView, 'project'>, wishes: Wishes): Wanted[] {
  const { focus, size, chosen } = wishes;
  const wanted: Wanted[] = [];
  const add = (
    table: Table,
    ids: string[],
    label: Pick<Label, 'text' | 'kind'> & { more?: string | null; name?: string },
    stands: Point[],
  ) => {
    const things = ids.map((id) => ({ table, id }));
    if (wishes.shown && !things.some(wishes.shown)) return;
    const key = `${table}/${ids[0]}`;
    wanted.push({ key, more: null, name: '', ...label, things, stands, chosen: isOf(things, chosen) });
  };
  /** Below a symbol, else above, to the right, to the left. */
  const beside = (place: Point, text: string, down: number): Point[] => {
    const [x, y] = view.project(place);
    const aside = SYMBOL_PX * size + 3 + (LETTER_PX * scale.of * text.length) / 2;
    return [
      [x, y + down],
      [x, y - down],
      [x + aside, y],
      [x - aside, y],
    ];
  };
  /** In the middle of an outline, else some lines higher or lower. */
  const inside = (outline: Point[]): Point[] => {
    const [x, y] = view.project(centre(outline));
    return [0, 1, -1, 2, -2].map((lines) => [x, y + lines * (LINE_PX + 3) * scale.of]);
  };
  const tag = (table: 'racks' | 'stubs' | 'joints', down: number) => {
    for (const [id, thing] of Object.entries(doc[table])) {
      const name = givenName(doc, { table, id }, LONGEST_NAME);
      add(table, [id], { text: id, kind: 'tag', name }, beside(thing.position, id, down * size));
    }
  };
  // Names of areas first: tags find room beside them.
  for (const [id, a] of Object.entries(doc.areas))
    add('areas', [id], { text: a.name || id, kind: 'area-name' }, inside(a.outline));
  const near = nearEach(doc.loudspeakers);
  for (const [id, l] of Object.entries(doc.loudspeakers)) {
    const here = inPlaceOf({ loudspeakers: near(id) }, id);
    const things = here.map((each): Thing => ({ table: 'loudspeakers', id: each }));
    const asked = isOf(things, chosen) || isOf(things, wishes.hovered);
    if (here[0] !== id || (focus === 'site' && !asked)) continue;
    const text = here.join(' + ');
    add('loudspeakers', here, { text, kind: 'tag' }, beside(l.position, text, 26 * size));
  }
  tag('racks', 24);
  tag('stubs', 22);
  tag('joints', 22);
  if (focus !== 'cable') {
    for (const { id, text, more, place, down } of neighbourLabels(
      doc,
      focus === 'sound' ? wishes.neighbours : {},
    ))
      add('neighbours', [id], { text, more, kind: 'small' }, beside(place, text, down));
  }
  if (focus === 'site') {
    for (const [id, b] of Object.entries(doc.buildings))
      add('buildings', [id], { text: b.name || id, kind: 'name' }, inside(b.outline));
    for (const [id, m] of Object.entries(doc.marks))
      add('marks', [id], { text: id, kind: 'small' }, beside(m.position, id, -14 * scale.of));
  }
  return wanted;
}

/** Places nearer to each other than this stand one above the other on a plan, m. */
const SAME_PLACE_M = 0.5;

/** A longer name would cover what stands beside it, letters. */
const LONGEST_NAME = 24;

/** What is written at the neighbours: each by its name, with its floors; those above each other one below the other. */
export function neighbourLabels(
  doc: Pick<JobDocument, 'neighbours'>,
  figures: Readonly<Record<string, NeighbourFigures>> = {},
) {
  const labels: { id: string; text: string; more: string | null; place: Point; down: number }[] = [];
  for (const [id, n] of Object.entries(doc.neighbours)) {
    const place = n.points[0] ?? n.line[0];
    if (!place) continue;
    const floors = Object.entries(n.floors).map(([floor, f]) => f.name || floor);
    const above = labels
      .filter((l) => Math.hypot(l.place[0] - place[0], l.place[1] - place[1]) < SAME_PLACE_M)
      .reduce((lines, l) => lines + (l.more ? 2 : 1), 0);
    const name = cut(n.name ?? '', LONGEST_NAME) || id;
    const text = floors.length ? `${name}: ${floors.join(', ')}` : name;
    const more = figures[id] ? levelSaid(n, figures[id]) : null;
    labels.push({ id, text, more, place, down: 20 * scale.of + above * LINE_PX * scale.of });
  }
  return labels;
}

/** The level at a neighbour and its margin, of day and night the one that is nearer to its limit. */
function levelSaid(
  n: Neighbour,
  { day_margin_db: day, night_margin_db: night }: NeighbourFigures,
): string | null {
  const byNight = night !== null && (day === null || night < day);
  const margin = byNight ? night : day;
  if (margin === null || !Number.isFinite(margin)) return null;
  const far =
    margin >= 0
      ? say('{margin} below the limit', { margin: db(margin) })
      : say('{margin} over the limit', { margin: db(-margin) });
  const when = byNight ? say('by night') : say('by day');
  // With a limit of the bass beside it, the margin may be that one's: which level it goes with is not known here.
  const bass = byNight ? n.night_63hz : n.day_63hz;
  const level = (byNight ? (n.night ?? n.day) : n.day) - margin;
  if (level < NOTHING_DB) return null;
  return bass == null ? `${dba(level)} ${when}, ${far}` : `${far} ${when}`;
}
