/** The first page of a PDF as a picture. Loaded only when a PDF plan is brought in. */
import { getDocument, GlobalWorkerOptions } from 'pdfjs-dist';
import worker from 'pdfjs-dist/build/pdf.worker.min.mjs?url';

/** Longest side of the picture, pixels: enough to read dimensions on an A1 plan, little enough for a phone. */
const LONGEST_PX = 4000;

export async function firstPage(file: Blob): Promise<Blob> {
  GlobalWorkerOptions.workerSrc = worker;
  const task = getDocument({
    data: new Uint8Array(await file.arrayBuffer()),
    isOffscreenCanvasSupported: true,
  });
  try {
    const document = await task.promise.catch(() => {
      throw new Error('the PDF cannot be read');
    });
    const page = await document.getPage(1);
    const size = page.getViewport({ scale: 1 });
    const viewport = page.getViewport({ scale: LONGEST_PX / Math.max(size.width, size.height) });
    const canvas = window.document.createElement('canvas');
    [canvas.width, canvas.height] = [Math.ceil(viewport.width), Math.ceil(viewport.height)];
    await page.render({ canvas, viewport, background: '#ffffff' }).promise;
    const picture = await new Promise<Blob | null>((done) => canvas.toBlob(done, 'image/png'));
    if (!picture) throw new Error('the page is too large for a picture');
    return picture;
  } finally {
    await task.destroy();
  }
}
