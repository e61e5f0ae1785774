/** Room on the screen: what stands where, so that no text is written over another or over a symbol. */
import type { Point } from '../lib/geometry';

export interface Box {
  left: number;
  top: number;
  right: number;
  bottom: number;
}

/** Height of a line of text and mean width of a letter, pixels on a usual screen. */
export const LINE_PX = 15;
export const LETTER_PX = 7;
/** Side of the squares boxes are looked up by: about the size of a label. */
const CELL_PX = 64;

/** The box of a text about its middle. */
export function textBox([x, y]: Point, text: string, scale: number, lines = 1): Box {
  const [w, h] = [(LETTER_PX * scale * text.length) / 2, (LINE_PX * scale * lines) / 2];
  return { left: x - w, top: y - h, right: x + w, bottom: y + h };
}

const meet = (a: Box, b: Box) => a.left < b.right && b.left < a.right && a.top < b.bottom && b.top < a.bottom;

export class Room {
  #cells = new Map<string, Box[]>();

  *#over(box: Box): Generator<string> {
    const cell = (u: number) => Math.floor(u / CELL_PX);
    for (let i = cell(box.left); i <= cell(box.right); i++)
      for (let j = cell(box.top); j <= cell(box.bottom); j++) yield `${i} ${j}`;
  }

  /** Whether nothing stands in a box. */
  empty(box: Box): boolean {
    for (const cell of this.#over(box)) if (this.#cells.get(cell)?.some((b) => meet(b, box))) return false;
    return true;
  }

  /** Whether a text has room about its middle. */
  free(at: Point, text: string, scale: number): boolean {
    return this.empty(textBox(at, text, scale));
  }

  take(box: Box) {
    for (const cell of this.#over(box)) {
      const here = this.#cells.get(cell);
      if (here) here.push(box);
      else this.#cells.set(cell, [box]);
    }
  }
}
