/** Painting a level map: levels between grid points by straight lines, coloured in bands, contours with their labels. */
import { contour } from '../lib/contours';
import type { Frame } from '../lib/frame';
import { BAND_DB, lookup, type Scale } from '../lib/palette';

/** Picture points per grid cell and side: enough that band edges look smooth, few enough for a quick frame. */
export const FINENESS = 4;
const ALPHA = 0.7;

/** The picture of the frame before: one of the same size is painted over, so that a drag leaves nothing to tidy up. */
let last: ImageData | null = null;
let words: { scale: Scale; table: Uint32Array } | null = null;

/** Colours a frame of smoothed levels; `null` when it has no extent. The picture's top left is the north-west grid point. */
export function colour(frame: Frame, levels: Float32Array, scale: Scale): ImageData | null {
  const { columns, rows } = frame;
  if (columns < 2 || rows < 2) return null;
  if (!words || words.scale.high_db !== scale.high_db || words.scale.low_db !== scale.low_db) {
    words = { scale, table: lookup(scale, ALPHA) };
  }
  const table = words.table;
  const top = table.length - 1;
  const [width, height] = [(columns - 1) * FINENESS, (rows - 1) * FINENESS];
  const picture = last?.width === width && last.height === height ? last : new ImageData(width, height);
  last = picture;
  const out = new Uint32Array(picture.data.buffer);
  const { low_db } = scale;
  for (let row = 0, at = 0; row < height; row++) {
    const v = rows - 1 - (row + 0.5) / FINENESS;
    const j = Math.min(rows - 2, Math.floor(v));
    const fv = v - j;
    for (let i = 0, k = j * columns; i < columns - 1; i++, k++) {
      const [a, b, c, d] = [levels[k]!, levels[k + 1]!, levels[k + columns]!, levels[k + columns + 1]!];
      // Along the row of the picture, in tenths of a decibel from the bottom of the scale.
      let west = 10 * (a + (c - a) * fv - low_db);
      let east = 10 * (b + (d - b) * fv - low_db);
      const whole = west + east;
      // At an edge of the map each quarter cell goes by its own corner.
      if (whole !== whole)
        [west, east] =
          fv < 0.5 ? [10 * (a - low_db), 10 * (b - low_db)] : [10 * (c - low_db), 10 * (d - low_db)];
      for (let step = 0; step < FINENESS; step++, at++) {
        const fu = (step + 0.5) / FINENESS;
        const tenths = whole === whole ? west + (east - west) * fu : fu < 0.5 ? west : east;
        out[at] = tenths >= -0.5 ? table[Math.min(top, (tenths + 0.5) | 0)]! : 0;
      }
    }
  }
  return picture;
}

export interface ContourStyle {
  ink: string;
  halo: string;
  /** How much larger than usual everything is drawn. */
  scale: number;
}

/** Draws contours every band, labelled where there is room. `project` gives picture points. */
export function drawContours(
  context: CanvasRenderingContext2D,
  frame: Frame,
  levels: Float32Array,
  scale: Scale,
  project: (p: [number, number]) => [number, number],
  style: ContourStyle,
) {
  // Lines this thin look the same with any joint; round ones take most of the time.
  context.lineJoin = 'bevel';
  context.textAlign = 'center';
  context.textBaseline = 'middle';
  context.font = `600 ${12 * style.scale}px Barlow, sans-serif`;
  const labels: { text: string; at: [number, number] }[] = [];
  for (let level = scale.low_db + BAND_DB; level < scale.high_db; level += BAND_DB) {
    const main = Math.round(level) % 6 === 0;
    context.beginPath();
    for (const way of contour(frame, levels, level)) {
      for (let i = 0; i < way.length; i += 2) {
        const [x, y] = project([way[i]!, way[i + 1]!]);
        if (i) context.lineTo(x, y);
        else context.moveTo(x, y);
      }
      if (!main || way.length < 24) continue;
      const middle = 2 * Math.floor(way.length / 4);
      const at = project([way[middle]!, way[middle + 1]!]);
      if (labels.some((l) => Math.hypot(l.at[0] - at[0], l.at[1] - at[1]) < 56 * style.scale)) continue;
      labels.push({ text: String(Math.round(level)), at });
    }
    context.globalAlpha = main ? 0.85 : 0.45;
    context.lineWidth = (main ? 1.3 : 0.8) * style.scale;
    context.strokeStyle = style.ink;
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
