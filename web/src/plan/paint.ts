/** Painting a level map: levels between grid points by straight lines, coloured in bands, contours with their labels. */
import { contour } from '../lib/contours';
import type { Frame } from '../lib/frame';
import { BAND_DB, lookup, type Scale } from '../lib/palette';

/** Picture points per grid cell and side: enough that band edges look smooth, few enough for a quick frame. */
const FINENESS = 4;
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
  for (let row = 0; row < height; row++) {
    const v = rows - 1 - (row + 0.5) / FINENESS;
    const j = Math.min(rows - 2, Math.floor(v));
    const fv = v - j;
    const south = j * columns;
    for (let column = 0; column < width; column++) {
      const u = (column + 0.5) / FINENESS;
      const i = Math.floor(u);
      const fu = u - i;
      const k = south + i;
      const [a, b, c, d] = [levels[k]!, levels[k + 1]!, levels[k + columns]!, levels[k + columns + 1]!];
      let level = (a * (1 - fu) + b * fu) * (1 - fv) + (c * (1 - fu) + d * fu) * fv;
      // At an edge of the map each quarter cell goes by its own corner.
      if (level !== level) level = fv < 0.5 ? (fu < 0.5 ? a : b) : fu < 0.5 ? c : d;
      const tenths = Math.round((level - scale.low_db) * 10);
      out[row * width + column] = tenths >= 0 ? table[tenths < top ? tenths : top]! : 0;
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
  context.lineJoin = 'round';
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
