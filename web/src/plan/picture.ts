/**
 * The plan as it stands on the screen as one picture: every drawing and map over another, with its legend and scale, by
 * itself (no style sheet, no address). Attributes stand for styles, which reach no file.
 */
import regular from '@fontsource/barlow/files/barlow-latin-500-normal.woff2?url';
import strong from '@fontsource/barlow/files/barlow-latin-600-normal.woff2?url';
import { say } from '../words/spoken.svelte';
import { holdWidth, inlined } from './inlined';

const SVG = 'http://www.w3.org/2000/svg';

/** A part of the plan where it lies on it, px. */
interface Part {
  element: SVGSVGElement | HTMLCanvasElement;
  x: number;
  y: number;
  width: number;
  height: number;
}

/** Drawings and maps of the plan in the order they lie over each other. */
function partsOf(root: HTMLElement): Part[] {
  const frame = root.getBoundingClientRect();
  const parts: Part[] = [];
  for (const element of root.querySelectorAll<SVGSVGElement | HTMLCanvasElement>('svg, canvas')) {
    const nested = element.parentElement?.closest('svg');
    const tool = element.closest('.over-plan') && !element.closest('.legend');
    if (nested || tool) continue;
    const box = element.getBoundingClientRect();
    if (!box.width || !box.height) continue;
    const { width, height } = box;
    parts.push({ element, x: box.left - frame.left, y: box.top - frame.top, width, height });
  }
  return parts;
}

function node(name: string, attributes: Record<string, string | number>): SVGElement {
  const made = document.createElementNS(SVG, name) as SVGElement;
  for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, String(value));
  return made;
}

const dataUrl = (blob: Blob) =>
  new Promise<string>((done, failed) => {
    const reader = new FileReader();
    reader.onload = () => done(String(reader.result));
    reader.onerror = () => failed(new Error(say('The picture could not be read.')));
    reader.readAsDataURL(blob);
  });
const fetched = async (address: string) => dataUrl(await (await fetch(address)).blob());

/** A picture as data, whatever it comes from; what is in memory alone cannot be fetched. */
async function pictured(address: string): Promise<string> {
  if (!address.startsWith('blob:')) return fetched(address);
  const image = new Image();
  image.src = address;
  await image.decode();
  const canvas = document.createElement('canvas');
  [canvas.width, canvas.height] = [image.naturalWidth, image.naturalHeight];
  canvas.getContext('2d')!.drawImage(image, 0, 0);
  return canvas.toDataURL('image/png');
}

/** The letters of the app, carried in the file. */
async function letters(): Promise<SVGElement> {
  const face = async (weight: number, address: string) =>
    `@font-face{font-family:Barlow;font-weight:${weight};src:url(${await fetched(address)}) format("woff2")}`;
  const style = node('style', {});
  style.textContent = (await Promise.all([face(500, regular), face(600, strong)])).join('');
  return style;
}

/** What the legend says in words, on its own sheet. */
function legendOf(root: HTMLElement): SVGElement[] {
  const legend = root.querySelector<HTMLElement>('.legend');
  if (!legend) return [];
  const [frame, box] = [root.getBoundingClientRect(), legend.getBoundingClientRect()];
  const { backgroundColor: fill, color } = getComputedStyle(legend);
  const at = { x: box.left - frame.left, y: box.top - frame.top };
  const made = [node('rect', { ...at, width: box.width, height: box.height, rx: 8, fill })];
  for (const said of legend.querySelectorAll<HTMLElement>('strong, li')) {
    const range = document.createRange();
    range.selectNodeContents(said);
    const own = range.getBoundingClientRect();
    const patch = said.querySelector('canvas')?.getBoundingClientRect();
    const left = patch ? patch.right + 6 : own.left;
    const text = node('text', {
      x: left - frame.left,
      y: own.top + own.height / 2 - frame.top,
      fill: color,
      'font-family': 'Barlow, sans-serif',
      'font-size': getComputedStyle(said).fontSize,
      'font-weight': said.tagName === 'STRONG' ? 600 : 500,
      'dominant-baseline': 'middle',
    });
    text.textContent = said.textContent!.trim();
    holdWidth(text, own.right - left);
    made.push(text);
  }
  return made;
}

/** A plan as SVG, at the size it has on the screen. */
export async function pictureOf(root: HTMLElement, title: string): Promise<SVGElement> {
  const { width, height } = root.getBoundingClientRect();
  const whole = node('svg', { width, height, viewBox: `0 0 ${width} ${height}` });
  const named = node('title', {});
  named.textContent = title;
  const paper = getComputedStyle(root).backgroundColor;
  whole.append(named, await letters(), node('rect', { width, height, fill: paper }));
  let legend = legendOf(root);
  for (const part of partsOf(root)) {
    if (part.element.closest('.legend')) {
      whole.append(...legend);
      legend = [];
    }
    whole.append(drawn(part));
  }
  for (const image of whole.querySelectorAll('image')) {
    const href = image.getAttribute('href');
    if (href && !href.startsWith('data:')) image.setAttribute('href', await pictured(href));
  }
  return whole;
}

function drawn({ element, x, y, width, height }: Part): SVGElement {
  if (element instanceof HTMLCanvasElement) {
    const href = element.toDataURL('image/png');
    return node('image', { x, y, width, height, href, preserveAspectRatio: 'none' });
  }
  const copy = inlined(element) as SVGElement;
  for (const [key, value] of Object.entries({ x, y, width, height })) copy.setAttribute(key, String(value));
  return copy;
}

export const svgFile = (picture: SVGElement) =>
  new Blob([new XMLSerializer().serializeToString(picture)], { type: 'image/svg+xml' });

/** Picture points per point of the screen: sharp on paper, too. */
const SHARP = 2;

export async function pngFile(picture: SVGElement): Promise<Blob> {
  const [width, height] = ['width', 'height'].map((side) => Number(picture.getAttribute(side)));
  const address = URL.createObjectURL(svgFile(picture));
  try {
    const image = new Image();
    image.src = address;
    await image.decode();
    const canvas = document.createElement('canvas');
    [canvas.width, canvas.height] = [Math.round(SHARP * width!), Math.round(SHARP * height!)];
    canvas.getContext('2d')!.drawImage(image, 0, 0, canvas.width, canvas.height);
    const blob = await new Promise<Blob | null>((done) => canvas.toBlob(done, 'image/png'));
    if (!blob) throw new Error(say('The picture is too large for this browser.'));
    return blob;
  } finally {
    URL.revokeObjectURL(address);
  }
}
