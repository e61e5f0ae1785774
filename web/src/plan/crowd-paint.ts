/** Painting a crowd on a canvas, as its things look where they are few. */
import type { Point } from '../lib/geometry';
import { CLUSTER_PX, type Cable, type Cluster, type Stand } from './crowd';
import { partsOf, PX_PER_MM, type SymbolName } from './symbols';

/** What it is painted with. */
export interface Paints {
  ink: string;
  quiet: string;
  halo: string;
  warning: string;
  sheet: string;
  focus: string;
  /** Colour and dashes of a line. */
  line: (id: string) => { colour: string; dash: string };
}

/** How things look on the plan they are on. */
export interface Look {
  focus: 'site' | 'sound' | 'cable';
  /** How large symbols are drawn. */
  size: number;
  /** How much larger than usual everything is drawn. */
  scale: number;
  paints: Paints;
}

/** What is no part of what is looked at: seen, and no more. */
const FAINT = 0.15;
/** Loudspeakers on a plan that is about something else, and the line they hang on. */
const QUIET = 0.45;
const QUIET_CABLE = 0.55;

const paths = new Map<SymbolName, { path: Path2D; fill: string; stroke: string; width: number }[]>();

function pathsOf(name: SymbolName) {
  const known = paths.get(name);
  if (known) return known;
  const made = partsOf(name).map(({ d, ...part }) => ({ path: new Path2D(d), ...part }));
  paths.set(name, made);
  return made;
}

type Project = (p: Point) => Point;

/** Draws all of it: cable first, symbols over it in their order, clusters over all. */
export function paintCrowd(
  context: CanvasRenderingContext2D,
  {
    cables,
    alone,
    clusters,
  }: { cables: readonly Cable[]; alone: readonly Stand[]; clusters: readonly Cluster[] },
  project: Project,
  [width, height]: [number, number],
  look: Look,
) {
  if (look.focus !== 'site') paintCables(context, cables, project, look);
  const reach = 30 * look.size;
  const base = context.getTransform();
  for (const stand of alone) {
    const [x, y] = project(stand.at);
    if (x < -reach || y < -reach || x > width + reach || y > height + reach) continue;
    paintStand(context, stand, base.translate(x, y).scale(look.size), look);
  }
  context.setTransform(base);
  context.globalAlpha = 1;
  for (const cluster of clusters) paintCluster(context, cluster, project(cluster.at), look);
}

function paintCables(
  context: CanvasRenderingContext2D,
  cables: readonly Cable[],
  project: Project,
  look: Look,
) {
  const px = look.scale;
  const quiet = look.focus === 'sound';
  const groups = new Map<string, Cable[]>();
  for (const cable of cables) {
    const group = `${cable.faint} ${cable.line}`;
    const here = groups.get(group);
    if (here) here.push(cable);
    else groups.set(group, [cable]);
  }
  for (const group of groups.values()) {
    const { line, faint } = group[0]!;
    const ways = new Path2D();
    for (const { way } of group)
      way.forEach((p, i) => {
        const [x, y] = project(p);
        if (i) ways.lineTo(x, y);
        else ways.moveTo(x, y);
      });
    const { colour, dash } = look.paints.line(line);
    if (!quiet && !faint) {
      context.globalAlpha = 0.8;
      context.lineWidth = 5 * px;
      context.strokeStyle = look.paints.halo;
      context.stroke(ways);
    }
    context.globalAlpha = faint ? FAINT : quiet ? QUIET_CABLE : 1;
    context.lineWidth = (quiet ? 1.2 : 2.6) * px;
    context.strokeStyle = colour;
    context.setLineDash(dash ? dash.split(' ').map(Number) : []);
    context.stroke(ways);
    context.setLineDash([]);
  }
  context.globalAlpha = 1;
}

function paintStand(context: CanvasRenderingContext2D, stand: Stand, place: DOMMatrix, look: Look) {
  const { paints, focus } = look;
  const isLoudspeaker = stand.thing.table === 'loudspeakers';
  context.globalAlpha = stand.faint ? FAINT : isLoudspeaker && focus === 'site' ? QUIET : 1;
  if (stand.chosen) {
    context.setTransform(place);
    context.beginPath();
    context.arc(0, 0, 22, 0, 2 * Math.PI);
    context.strokeStyle = paints.focus;
    context.lineWidth = 2.5;
    context.stroke();
  }
  if (stand.symbol) {
    const turned = stand.symbol === 'subwoofer' || stand.symbol === 'bollard' ? 0 : stand.bearing;
    const colour = !isLoudspeaker ? paints.ink : stand.line ? paints.line(stand.line).colour : paints.quiet;
    const tint = (of: string) => (of === 'colour' ? colour : paints.halo);
    context.setTransform(place.scale(PX_PER_MM).rotate(turned));
    for (const part of pathsOf(stand.symbol)) {
      if (part.fill !== 'none') {
        context.fillStyle = tint(part.fill);
        context.fill(part.path);
      }
      if (part.stroke === 'none') continue;
      context.strokeStyle = tint(part.stroke);
      context.lineWidth = part.width;
      context.stroke(part.path);
    }
  }
  if (!stand.pinned) return;
  context.setTransform(place);
  context.beginPath();
  context.arc(9, -9, 4, 0, 2 * Math.PI);
  context.fillStyle = paints.warning;
  context.fill();
  context.strokeStyle = paints.halo;
  context.lineWidth = 1.5;
  context.stroke();
}

function paintCluster(context: CanvasRenderingContext2D, cluster: Cluster, [x, y]: Point, look: Look) {
  const { paints, scale } = look;
  context.beginPath();
  context.arc(x, y, CLUSTER_PX * scale, 0, 2 * Math.PI);
  context.fillStyle = paints.ink;
  context.fill();
  context.lineWidth = 2 * scale;
  context.strokeStyle = paints.halo;
  context.stroke();
  context.fillStyle = paints.sheet;
  context.font = `600 ${12 * scale}px Barlow, sans-serif`;
  context.textAlign = 'center';
  context.textBaseline = 'middle';
  context.fillText(String(cluster.count), x, y + 0.5 * scale);
}
