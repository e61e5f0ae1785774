/** Painting a level map: levels between grid points by straight lines, coloured in bands or by verdict, contours with their labels. */
import type { Area } from '../api/document';
import { contour } from '../lib/contours';
import type { Frame } from '../lib/frame';
import { area } from '../lib/geometry';
import {
  BAND_DB,
  bandsOf,
  lightness,
  lookup,
  word,
  type Band,
  type Ground,
  type Scale,
} from '../lib/palette';
import { areaAt, verdictColour, verdictOf } from '../lib/verdicts';
import type { Room } from './room';

/** Picture points per grid cell and side: enough that band edges look smooth, few enough for a quick frame. */
export const FINENESS = 4;

/** The picture of the frame before: one of the same size is painted over, so that a drag leaves nothing to tidy up. */
let last: ImageData | null = null;
let painted: { scale: Scale; ground: Ground; bands: Band[]; table: Uint32Array } | null = null;

/** The bands of a scale and their words, worked out once: they are asked for with every picture of a drag. */
function paintOf(scale: Scale, ground: Ground) {
  const { low_db, high_db } = scale;
  const same =
    painted?.ground === ground && painted.scale.low_db === low_db && painted.scale.high_db === high_db;
  if (!painted || !same) {
    const bands = bandsOf(scale, ground);
    painted = { scale, ground, bands, table: lookup(bands, scale) };
  }
  return painted;
}

function pictureFor({ columns, rows }: Frame): ImageData | null {
  if (columns < 2 || rows < 2) return null;
  const [width, height] = [(columns - 1) * FINENESS, (rows - 1) * FINENESS];
  if (last?.width !== width || last.height !== height) last = new ImageData(width, height);
  return last;
}

/** Calls for every point of a frame's picture with the level there, in tenths of a decibel over `low_db`; NaN where there is none. */
function eachLevel(
  { columns, rows }: Frame,
  levels: Float32Array,
  low_db: number,
  paint: (at: number, tenths: number) => void,
) {
  const height = (rows - 1) * FINENESS;
  for (let row = 0, at = 0; row < height; row++) {
    const v = rows - 1 - (row + 0.5) / FINENESS;
    const j = Math.min(rows - 2, Math.floor(v));
    const fv = v - j;
    for (let i = 0, k = j * columns; i < columns - 1; i++, k++) {
      const [a, b, c, d] = [levels[k]!, levels[k + 1]!, levels[k + columns]!, levels[k + columns + 1]!];
      let west = 10 * (a + (c - a) * fv - low_db);
      let east = 10 * (b + (d - b) * fv - low_db);
      const whole = west + east;
      // At an edge of the map each quarter cell goes by its own corner.
      if (whole !== whole)
        [west, east] =
          fv < 0.5 ? [10 * (a - low_db), 10 * (b - low_db)] : [10 * (c - low_db), 10 * (d - low_db)];
      for (let step = 0; step < FINENESS; step++, at++) {
        const fu = (step + 0.5) / FINENESS;
        paint(at, whole === whole ? west + (east - west) * fu : fu < 0.5 ? west : east);
      }
    }
  }
}

/** Colours a frame of smoothed levels; `null` when it has no extent. The picture's top left is the north-west grid point. */
export function colour(frame: Frame, levels: Float32Array, scale: Scale, ground: Ground): ImageData | null {
  const picture = pictureFor(frame);
  if (!picture) return null;
  const { table } = paintOf(scale, ground);
  const top = table.length - 1;
  const out = new Uint32Array(picture.data.buffer);
  eachLevel(frame, levels, scale.low_db, (at, tenths) => {
    out[at] = tenths >= -0.5 ? table[Math.min(top, (tenths + 0.5) | 0)]! : 0;
  });
  return picture;
}

/** Which area counts at each point of a frame's picture, from 1; 0 for none. Kept while neither areas nor frame move. */
let owners: { of: string; each: Uint16Array } | null = null;

function ownersOf(frame: Frame, areas: readonly Area[]): Uint16Array {
  const { columns, rows, x0_m, y0_m, spacing_m } = frame;
  const of = JSON.stringify([columns, rows, x0_m, y0_m, spacing_m, areas.map((a) => a.outline)]);
  if (owners?.of === of) return owners.each;
  const [width, height] = [(columns - 1) * FINENESS, (rows - 1) * FINENESS];
  const each = new Uint16Array(width * height);
  for (let row = 0, at = 0; row < height; row++) {
    const y = y0_m + (rows - 1 - (row + 0.5) / FINENESS) * spacing_m;
    for (let column = 0; column < width; column++, at++) {
      const owner = areaAt(areas, [x0_m + ((column + 0.5) / FINENESS) * spacing_m, y]);
      each[at] = owner ? areas.indexOf(owner) + 1 : 0;
    }
  }
  owners = { of, each };
  return each;
}

/** Paints where areas get what they want and where they do not; other places are left clear. */
export function colourVerdicts(
  frame: Frame,
  levels: Float32Array,
  areas: readonly Area[],
  ground: Ground,
): ImageData | null {
  const picture = pictureFor(frame);
  if (!picture) return null;
  const smallestFirst = [...areas].sort((a, b) => Math.abs(area(a.outline)) - Math.abs(area(b.outline)));
  const each = ownersOf(frame, smallestFirst);
  const out = new Uint32Array(picture.data.buffer);
  const { width } = picture;
  eachLevel(frame, levels, 0, (at, tenths) => {
    const owner = each[at] ? smallestFirst[each[at]! - 1] : undefined;
    if (!owner || tenths !== tenths) {
      out[at] = 0;
      return;
    }
    const verdict = verdictOf(tenths / 10, owner);
    out[at] = word(verdictColour(verdict, ground, at % width, Math.floor(at / width)));
  });
  return picture;
}

export interface ContourStyle {
  ink: string;
  halo: string;
  /** How much larger than usual everything is drawn. */
  scale: number;
}

/** Least distance between two figures, px on a usual screen. */
const APART_PX = 56;
/** Shares of a contour at which its figure may stand, the best first. */
const STANDS = [0.5, 0.3, 0.7, 0.15, 0.85];

/**
 * Draws contours every band, labelled where there is room for it beside what `room` has taken. `project` gives picture points.
 */
export function drawContours(
  context: CanvasRenderingContext2D,
  frame: Frame,
  levels: Float32Array,
  scale: Scale,
  project: (p: [number, number]) => [number, number],
  style: ContourStyle,
  /** What the bands below are coloured for; `null` where there are none. */
  ground: Ground | null,
  room: Room,
) {
  // Lines this thin look the same with any joint; round ones take most of the time.
  context.lineJoin = 'bevel';
  context.textAlign = 'center';
  context.textBaseline = 'middle';
  context.font = `600 ${12 * style.scale}px Barlow, sans-serif`;
  const labels: { text: string; at: [number, number] }[] = [];
  const { bands } = paintOf(scale, ground ?? 'pale');
  const fits = (text: string, at: [number, number]) =>
    !labels.some((l) => Math.hypot(l.at[0] - at[0], l.at[1] - at[1]) < APART_PX * style.scale) &&
    room.free(at, text, style.scale);
  for (const { from_db: level, rgb } of bands.slice(1)) {
    const main = Math.round(level) % (2 * BAND_DB) === 0;
    context.beginPath();
    for (const way of contour(frame, levels, level)) {
      for (let i = 0; i < way.length; i += 2) {
        const [x, y] = project([way[i]!, way[i + 1]!]);
        if (i) context.lineTo(x, y);
        else context.moveTo(x, y);
      }
      if (!main || way.length < 24) continue;
      const text = String(Math.round(level));
      for (const share of STANDS) {
        const i = 2 * Math.floor((way.length / 2) * share);
        const at = project([way[i]!, way[i + 1]!]);
        if (!fits(text, at)) continue;
        labels.push({ text, at });
        break;
      }
    }
    context.globalAlpha = main ? 0.85 : 0.45;
    context.lineWidth = (main ? 1.3 : 0.8) * style.scale;
    // What is dark is seen on pale bands, what is pale on dark ones.
    context.strokeStyle = !ground || lightness(rgb) > 0.6 ? style.ink : style.halo;
    context.stroke();
  }
  context.globalAlpha = 1;
  context.lineWidth = 4 * style.scale;
  context.strokeStyle = style.halo;
  context.fillStyle = style.ink;
  for (const { text, at } of labels) {
    context.strokeText(text, at[0], at[1]);
    context.fillText(text, at[0], at[1]);
  }
}
