/** A level map as it comes over the live channel. */
export interface Frame {
  request: number;
  revision: number;
  columns: number;
  rows: number;
  x0_m: number;
  y0_m: number;
  spacing_m: number;
  first_db: number;
  step_db: number;
  /** Row by row from the south-west; 0 where there is no value. */
  cells: Uint8Array;
}

/** "LMAP", little-endian. */
const MAGIC = 0x4c4d4150;
const HEADER = 40;

/** Reads a frame; `null` when it is not one. */
export function readFrame(buffer: ArrayBuffer): Frame | null {
  if (buffer.byteLength < HEADER) return null;
  const view = new DataView(buffer);
  const u = (i: number) => view.getUint32(4 * i, true);
  const f = (i: number) => view.getFloat32(4 * i, true);
  const [columns, rows] = [u(3), u(4)];
  if (u(0) !== MAGIC || buffer.byteLength !== HEADER + columns * rows) return null;
  return {
    request: u(1),
    revision: u(2),
    columns,
    rows,
    x0_m: f(5),
    y0_m: f(6),
    spacing_m: f(7),
    first_db: f(8),
    step_db: f(9),
    cells: new Uint8Array(buffer, HEADER),
  };
}

/** Loudest level of a frame, dB, or `null` when it is empty. */
export function loudest(frame: Frame): number | null {
  let top = 0;
  for (const v of frame.cells) if (v > top) top = v;
  return top ? frame.first_db + frame.step_db * (top - 1) : null;
}

/**
 * Levels with the steps of a quarter decibel smoothed away by the neighbours (weights 1, 2, 1 both ways), dB; NaN where
 * there is none. For drawing only: edges of bands and contours would be ragged.
 */
export function smoothed(frame: Frame): Float32Array {
  const { columns, rows, cells } = frame;
  const out = new Float32Array(columns * rows);
  for (let j = 0; j < rows; j++) {
    for (let i = 0; i < columns; i++) {
      const k = j * columns + i;
      if (cells[k] === 0) {
        out[k] = NaN;
        continue;
      }
      let [sum, weight] = [0, 0];
      for (let dj = j > 0 ? -1 : 0; dj <= (j < rows - 1 ? 1 : 0); dj++) {
        for (let di = i > 0 ? -1 : 0; di <= (i < columns - 1 ? 1 : 0); di++) {
          const v = cells[k + dj * columns + di]!;
          if (v === 0) continue;
          const w = (2 - Math.abs(di)) * (2 - Math.abs(dj));
          sum += w * v;
          weight += w;
        }
      }
      out[k] = frame.first_db + frame.step_db * (sum / weight - 1);
    }
  }
  return out;
}
