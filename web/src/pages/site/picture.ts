/** The picture under the plan, read and written anew: turned over, or seen from above. */
import { get, jobPath, request, upload } from '../../api/client';
import { drawRows, type Pixels, type Squared } from '../../lib/underlay';
import { say } from '../../words/spoken.svelte';

/** More pixels of a slanted photo than these say nothing new, and a phone has no room for them. */
const MOST_PIXELS = 12e6;
/** Rows drawn before the screen has its turn. */
const ROWS_AT_ONCE = 64;

const pathOf = (job: string, name: string) => jobPath(job, `/attachments/${encodeURIComponent(name)}`);

async function bitmapOf(job: string, name: string): Promise<ImageBitmap> {
  const blob = await (await request('GET', pathOf(job, name))).blob();
  return createImageBitmap(blob).catch(() => {
    throw new Error(say('the picture cannot be read'));
  });
}

async function widthOf(job: string, name: string): Promise<number> {
  const picture = await bitmapOf(job, name);
  const { width } = picture;
  picture.close();
  return width;
}

/** A canvas with the picture on it, and how far it was made smaller. */
async function onCanvas(job: string, name: string): Promise<{ canvas: HTMLCanvasElement; share: number }> {
  const picture = await bitmapOf(job, name);
  const share = Math.min(1, Math.sqrt(MOST_PIXELS / (picture.width * picture.height)));
  const canvas = document.createElement('canvas');
  canvas.width = Math.max(2, Math.round(picture.width * share));
  canvas.height = Math.max(2, Math.round(picture.height * share));
  canvas.getContext('2d')!.drawImage(picture, 0, 0, canvas.width, canvas.height);
  const left = canvas.width / picture.width;
  picture.close();
  return { canvas, share: left };
}

async function keep(job: string, name: string, canvas: HTMLCanvasElement, type: string) {
  const blob = await new Promise<Blob | null>((done) => canvas.toBlob(done, type, 0.9));
  if (!blob) throw new Error(say('the picture is too large to be written'));
  await upload('PUT', pathOf(job, name), blob, type);
}

/** `yard.jpg` turned over is `yard-mirrored.jpg`, and the other way round. */
export function mirroredName(name: string): string {
  const [, stem, end] = /^(.*?)(\.[^.]*)?$/.exec(name)!;
  return stem!.endsWith('-mirrored')
    ? `${stem!.slice(0, -'-mirrored'.length)}${end ?? ''}`
    : `${stem}-mirrored${end ?? ''}`;
}

/**
 * Keeps the picture turned over, left for right; its name, and its width as a share of the other's. No picture is written over,
 * so that Undo finds it as it was; turned over twice it is the first one.
 */
export async function mirrored(job: string, name: string): Promise<{ name: string; share: number }> {
  const next = mirroredName(name);
  const kept = await get<{ name: string }[]>(jobPath(job, '/attachments'));
  if (kept.some((a) => a.name === next))
    return { name: next, share: (await widthOf(job, next)) / (await widthOf(job, name)) };
  const { canvas, share } = await onCanvas(job, name);
  const over = document.createElement('canvas');
  [over.width, over.height] = [canvas.width, canvas.height];
  const pen = over.getContext('2d')!;
  pen.translate(over.width, 0);
  pen.scale(-1, 1);
  pen.drawImage(canvas, 0, 0);
  await keep(job, next, over, /\.png$/i.test(next) ? 'image/png' : 'image/jpeg');
  return { name: next, share };
}

/** The pixels of the slanted picture; `share` of its width and height are left. */
export async function slanted(job: string, name: string): Promise<{ pixels: Pixels; share: number }> {
  const { canvas, share } = await onCanvas(job, name);
  const { width, height } = canvas;
  const { data } = canvas.getContext('2d')!.getImageData(0, 0, width, height);
  return { pixels: { width, height, data }, share };
}

/** Draws the picture seen from above and keeps it; its name. */
export async function keepSquared(job: string, name: string, from: Pixels, to: Squared): Promise<string> {
  const canvas = document.createElement('canvas');
  [canvas.width, canvas.height] = [to.size.width, to.size.height];
  const pen = canvas.getContext('2d')!;
  const image = pen.createImageData(canvas.width, canvas.height);
  const into = { ...to.size, data: image.data };
  for (let y = 0; y < into.height; y += ROWS_AT_ONCE) {
    drawRows(from, to, into, y, Math.min(into.height, y + ROWS_AT_ONCE));
    await new Promise((next) => setTimeout(next));
  }
  pen.putImageData(image, 0, 0);
  const stem = name.replace(/\.[^.]*$/, '').replace(/-squared(-\d+)?$/, '');
  const next = `${stem}-squared-${Date.now() % 1_000_000}.png`;
  await keep(job, next, canvas, 'image/png');
  return next;
}
