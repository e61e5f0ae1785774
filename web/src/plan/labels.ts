/** Names and tags on the plan: the important ones first, none over another. */
import type { JobDocument } from '../api/document';
import { cut } from '../lib/called';
import { centre, type Point } from '../lib/geometry';
import { scale } from '../lib/scale.svelte';
import { inPlaceOf } from '../lib/stakes';
import type { PlanView } from './view.svelte';

export interface Label {
  key: string;
  text: string;
  kind: 'area-name' | 'name' | 'tag' | 'small';
  /** Whether it is that of what is chosen. */
  chosen: boolean;
  x: number;
  y: number;
}

/** Height of a line of text and mean width of a letter, pixels on a usual screen. */
const LINE_PX = 15;
const LETTER_PX = 7;

/** Labels that fit, in the order of what they matter; what is chosen always has its own. Loudspeakers in one place share one. */
export function placedLabels(
  doc: JobDocument,
  view: Pick<PlanView, 'project'>,
  focus: 'site' | 'sound' | 'cable',
  size: number,
  chosen: string | null,
): Label[] {
  const wanted: Label[] = [];
  const add = (
    key: string,
    text: string,
    kind: Label['kind'],
    place: Point,
    down: number,
    of: string[] = [text],
  ) => {
    const [x, y] = view.project(place);
    wanted.push({ key, text, kind, x, y: y + down, chosen: chosen !== null && of.includes(chosen) });
  };
  for (const [id, l] of Object.entries(doc.loudspeakers)) {
    const here = inPlaceOf(doc, id);
    if (here[0] !== id || (focus === 'site' && !here.includes(chosen ?? ''))) continue;
    add(`l${id}`, here.join(' + '), 'tag', l.position, 26 * size, here);
  }
  for (const [id, r] of Object.entries(doc.racks)) add(`r${id}`, id, 'tag', r.position, 24 * size);
  for (const [id, t] of Object.entries(doc.stubs)) add(`t${id}`, id, 'tag', t.position, 22 * size);
  for (const [id, j] of Object.entries(doc.joints)) add(`j${id}`, id, 'tag', j.position, 22 * size);
  for (const [id, a] of Object.entries(doc.areas))
    add(`a${id}`, a.name || id, 'area-name', centre(a.outline), 0, [id]);
  if (focus === 'site') {
    for (const { key, id, text, place, down } of neighbourLabels(doc))
      add(key, text, 'small', place, down, [id]);
    for (const [id, b] of Object.entries(doc.buildings))
      add(`b${id}`, b.name || id, 'name', centre(b.outline), 0, [id]);
    for (const [id, m] of Object.entries(doc.marks)) add(`m${id}`, id, 'small', m.position, -14 * scale.of);
  }
  wanted.sort((a, b) => Number(b.chosen) - Number(a.chosen));
  const placed: Label[] = [];
  for (const label of wanted) {
    const meets = placed.some(
      (p) =>
        Math.abs(p.y - label.y) < LINE_PX * scale.of &&
        Math.abs(p.x - label.x) < (LETTER_PX * scale.of * (p.text.length + label.text.length)) / 2,
    );
    if (!meets) placed.push(label);
  }
  return placed;
}

/** Places nearer to each other than this stand one above the other on a plan, m. */
const SAME_PLACE_M = 0.5;

/** A longer name of a neighbour would cover what stands beside it, letters. */
const LONGEST_NAME = 24;

/** What is written at the neighbours: each by its name, with its floors; those above each other one below the other. */
export function neighbourLabels(doc: Pick<JobDocument, 'neighbours'>) {
  const labels: { key: string; id: string; text: string; place: Point; down: number }[] = [];
  for (const [id, n] of Object.entries(doc.neighbours)) {
    const place = n.points[0] ?? n.line[0];
    if (!place) continue;
    const floors = Object.entries(n.floors).map(([floor, f]) => f.name || floor);
    const above = labels.filter(
      (l) => Math.hypot(l.place[0] - place[0], l.place[1] - place[1]) < SAME_PLACE_M,
    ).length;
    const name = cut(n.name ?? '', LONGEST_NAME) || id;
    const text = floors.length ? `${name}: ${floors.join(', ')}` : name;
    labels.push({ key: `n${id}`, id, text, place, down: 20 * scale.of + above * LINE_PX * scale.of });
  }
  return labels;
}
