/** PDF pages as pictures. Loaded only when there is a PDF to show. */
import { getDocument, GlobalWorkerOptions, type PDFDocumentProxy } from 'pdfjs-dist';
import worker from 'pdfjs-dist/build/pdf.worker.min.mjs?url';
import { say } from '../words/spoken.svelte';

GlobalWorkerOptions.workerSrc = worker;

/** Longest side of a plan underlay, pixels: enough to read dimensions on an A1 plan, little enough for a phone. */
const LONGEST_PX = 4000;

export class Pdf {
  private constructor(readonly document: PDFDocumentProxy) {}

  static async open(file: ArrayBuffer): Promise<Pdf> {
    const task = getDocument({ data: new Uint8Array(file) });
    try {
      return new Pdf(await task.promise);
    } catch {
      await task.destroy();
      throw new Error(say('the PDF cannot be read'));
    }
  }

  get pages() {
    return this.document.numPages;
  }

  /** Width over height of a page, numbered from 1. */
  async shape(number: number): Promise<number> {
    const { width, height } = (await this.document.getPage(number)).getViewport({ scale: 1 });
    return width / height;
  }

  /** Draws a page so that its longest side has so many pixels. */
  async draw(number: number, canvas: HTMLCanvasElement, longest_px: number) {
    const page = await this.document.getPage(number);
    const size = page.getViewport({ scale: 1 });
    const viewport = page.getViewport({ scale: longest_px / Math.max(size.width, size.height) });
    [canvas.width, canvas.height] = [Math.ceil(viewport.width), Math.ceil(viewport.height)];
    await page.render({ canvas, viewport, background: '#ffffff' }).promise;
  }

  close() {
    void this.document.loadingTask.destroy();
  }
}

/** The first page of a file as a PNG. */
export async function firstPage(file: Blob): Promise<Blob> {
  const pdf = await Pdf.open(await file.arrayBuffer());
  try {
    const canvas = document.createElement('canvas');
    await pdf.draw(1, canvas, LONGEST_PX);
    const picture = await new Promise<Blob | null>((done) => canvas.toBlob(done, 'image/png'));
    if (!picture) throw new Error(say('the page is too large for a picture'));
    return picture;
  } finally {
    pdf.close();
  }
}
