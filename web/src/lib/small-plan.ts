/** A small picture of a plan, from the document alone: outlines, what stands, and who hears it. */
import type { JobDocument } from '../api/document';
import { boxOf, pathOf, type Point } from './geometry';

export interface SmallShape {
  kind: 'property' | 'building' | 'surface' | 'area' | 'wall' | 'loudspeaker' | 'rack';
  d: string;
}
export interface SmallPlan {
  /** In metres, y down. */
  viewBox: string;
  shapes: SmallShape[];
}

/** Least width of what is shown, m: a single dot is no plan. */
const LEAST_M = 4;
/** Room around it, as a share of its larger side. */
const MARGIN = 0.05;

/** The picture; `null` of a job in which nothing is drawn. */
export function smallPlan(doc: JobDocument): SmallPlan | null {
  const all: Point[] = [];
  const shapes: SmallShape[] = [];
  const flipped = ([x, y]: Point): Point => [x, -y];
  const draw = (kind: SmallShape['kind'], way: Point[], closed: boolean) => {
    const turned = way.map(flipped);
    all.push(...turned);
    shapes.push({ kind, d: pathOf(turned, closed) });
  };
  if (doc.site.outline) draw('property', doc.site.outline, true);
  for (const s of Object.values(doc.surfaces)) draw('surface', s.outline, true);
  for (const b of Object.values(doc.buildings)) draw('building', b.outline, true);
  for (const a of Object.values(doc.areas)) draw('area', a.outline, true);
  for (const w of Object.values(doc.walls)) draw('wall', w.line, false);
  const dots: [SmallShape['kind'], Point][] = [
    ...Object.values(doc.racks).map((r): [SmallShape['kind'], Point] => ['rack', r.position]),
    ...Object.values(doc.loudspeakers).map((l): [SmallShape['kind'], Point] => ['loudspeaker', l.position]),
  ];
  all.push(...dots.map(([, p]) => flipped(p)));
  const box = boxOf(all);
  if (!box) return null;
  const sides = [0, 1].map((axis) => Math.max(LEAST_M, box.max[axis]! - box.min[axis]!)) as [number, number];
  const size = Math.max(...sides);
  const dot = size / 60;
  for (const [kind, place] of dots) {
    const [x, y] = flipped(place);
    // Two half circles: a dot as a path.
    shapes.push({
      kind,
      d: `M${x - dot} ${y}a${dot} ${dot} 0 1 0 ${2 * dot} 0a${dot} ${dot} 0 1 0 ${-2 * dot} 0Z`,
    });
  }
  const middle = [0, 1].map((axis) => (box.min[axis]! + box.max[axis]!) / 2) as [number, number];
  const [w, h] = sides.map((side) => side + 2 * MARGIN * size) as [number, number];
  return { viewBox: [middle[0] - w / 2, middle[1] - h / 2, w, h].join(' '), shapes };
}
