/** Names and tags on the plan: the important ones first, none over another. */
import type { JobDocument } from '../api/document';
import { centre, type Point } from '../lib/geometry';
import { scale } from '../lib/scale.svelte';
import type { PlanView } from './view.svelte';

export interface Label {
  key: string;
  text: string;
  kind: 'area-name' | 'name' | 'tag' | 'small';
  x: number;
  y: number;
}

/** Height of a line of text and mean width of a letter, pixels on a usual screen. */
const LINE_PX = 15;
const LETTER_PX = 7;

/** Labels that fit, in the order of what they matter; what is chosen always has its own. */
export function placedLabels(
  doc: JobDocument,
  view: PlanView,
  focus: 'site' | 'sound' | 'cable',
  size: number,
  chosen: string | null,
): Label[] {
  const wanted: Label[] = [];
  const add = (key: string, text: string, kind: Label['kind'], place: Point, down: number) => {
    const [x, y] = view.project(place);
    wanted.push({ key, text, kind, x, y: y + down });
  };
  for (const [id, l] of Object.entries(doc.loudspeakers)) {
    if (focus !== 'site' || id === chosen) add(`l${id}`, id, 'tag', l.position, 26 * size);
  }
  for (const [id, r] of Object.entries(doc.racks)) add(`r${id}`, id, 'tag', r.position, 24 * size);
  for (const [id, t] of Object.entries(doc.stubs)) add(`t${id}`, id, 'tag', t.position, 22 * size);
  for (const [id, j] of Object.entries(doc.joints)) add(`j${id}`, id, 'tag', j.position, 22 * size);
  for (const [id, a] of Object.entries(doc.areas))
    add(`a${id}`, a.name || id, 'area-name', centre(a.outline), 0);
  if (focus === 'site') {
    for (const [id, b] of Object.entries(doc.buildings))
      add(`b${id}`, b.name || id, 'name', centre(b.outline), 0);
    for (const [id, m] of Object.entries(doc.marks)) add(`m${id}`, id, 'small', m.position, -14 * scale.of);
  }
  wanted.sort((a, b) => Number(b.text === chosen) - Number(a.text === chosen));
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
