/** What part of the plan is on the screen. Site metres (y north) to pixels (y down). */
import { zoomIdentity, type ZoomTransform } from 'd3-zoom';
import type { JobDocument } from '../api/document';
import { boxOf, type Box, type Point } from '../lib/geometry';
import { scale } from '../lib/scale.svelte';
import { FT_M } from '../lib/units';
import { prefs } from '../state/prefs.svelte';
import { EVERYTHING, type Only } from './only';

export class PlanView {
  /** Pixels per metre, and where the datum is on the screen. */
  t = $state.raw<ZoomTransform>(zoomIdentity.translate(40, 400).scale(20));
  width = $state(0);
  height = $state(0);
  /** Whether the plan was ever fitted: a new size must not take away where the person has zoomed to. */
  fitted = $state(false);
  /** Whether a person has moved or zoomed since. */
  moved = false;
  /** The part of the job that is looked at. */
  only = $state.raw<Only>(EVERYTHING);
  readonly matrix = $derived(`matrix(${this.t.k} 0 0 ${-this.t.k} ${this.t.x} ${this.t.y})`);
  /** A grid that keeps a finger's breadth: 1, 2, 5, 10 ... metres or feet. */
  readonly grid_m = $derived.by(() => {
    const one_m = prefs.unit === 'ft' ? FT_M : 1;
    const wanted = (60 * scale.of) / this.t.k / one_m;
    const power = 10 ** Math.floor(Math.log10(wanted));
    return one_m * ([1, 2, 5, 10].map((n) => n * power).find((m) => m >= wanted) ?? 10 * power);
  });

  project = (p: Point): Point => [this.t.x + p[0] * this.t.k, this.t.y - p[1] * this.t.k];
  unproject = (s: Point): Point => [(s[0] - this.t.x) / this.t.k, (this.t.y - s[1]) / this.t.k];

  /** The transform that shows a box with a margin, in what is left of the plan below and above what lies on it, px. */
  fitting(box: Box, { top, bottom } = { top: 0, bottom: 0 }): ZoomTransform {
    const [w, h] = [Math.max(1, box.max[0] - box.min[0]), Math.max(1, box.max[1] - box.min[1])];
    const margin = Math.min(48 * scale.of, this.width * 0.06);
    const height = this.height - top - bottom;
    const k = Math.min((this.width - 2 * margin) / w, (height - 2 * margin) / h);
    const x = this.width / 2 - (k * (box.min[0] + box.max[0])) / 2;
    const y = top + height / 2 + (k * (box.min[1] + box.max[1])) / 2;
    return zoomIdentity.translate(x, y).scale(Math.max(0.05, k));
  }
}

/** Corners and places of all that is drawn in the job, the outline of the property excepted. */
function everything(doc: JobDocument): Point[] {
  const outlines = (['areas', 'surfaces', 'buildings', 'no_go'] as const).flatMap((table) =>
    Object.values(doc[table]).flatMap((thing) => thing.outline),
  );
  const lines = (['walls', 'services', 'sleeves'] as const).flatMap((table) =>
    Object.values(doc[table]).flatMap((thing) => thing.line),
  );
  const places = (['loudspeakers', 'racks', 'stubs', 'passages', 'joints', 'marks'] as const).flatMap(
    (table) => Object.values(doc[table]).map((thing) => thing.position),
  );
  return [...outlines, ...lines, ...places];
}

/** The box of what a plan is looked at for: the property, else everything drawn. */
export function planBox(doc: JobDocument, underlay: Box | null): Box {
  const picture = underlay ? [underlay.min, underlay.max] : [];
  return boxOf(doc.site.outline ?? [...everything(doc), ...picture]) ?? { min: [0, 0], max: [30, 20] };
}

/** The box of all that counts when the whole site is looked at: what is drawn, also outside the property, and the neighbours. */
export function wholeBox(doc: JobDocument, underlay: Box | null): Box {
  const site = planBox(doc, underlay);
  const neighbours = Object.values(doc.neighbours).flatMap((n) => [...n.points, ...n.line]);
  return boxOf([site.min, site.max, ...everything(doc), ...neighbours])!;
}
