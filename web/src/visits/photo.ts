/** Photos made small enough to keep and send: they document a joint, not a landscape. */

import { say } from '../words/spoken.svelte';

/** Longest edge, pixels: colours of conductors and a printed tag are still read. */
const EDGE = 1600;
const QUALITY = 0.8;

export async function shrunk(file: Blob): Promise<Blob> {
  const picture = await createImageBitmap(file);
  try {
    const scale = Math.min(1, EDGE / Math.max(picture.width, picture.height));
    const canvas = document.createElement('canvas');
    canvas.width = Math.max(1, Math.round(picture.width * scale));
    canvas.height = Math.max(1, Math.round(picture.height * scale));
    canvas.getContext('2d')!.drawImage(picture, 0, 0, canvas.width, canvas.height);
    return await new Promise<Blob>((done, failed) =>
      canvas.toBlob(
        (blob) => (blob ? done(blob) : failed(new Error(say('this picture cannot be made smaller')))),
        'image/jpeg',
        QUALITY,
      ),
    );
  } finally {
    picture.close();
  }
}
