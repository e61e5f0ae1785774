/** Files that a browser keeps. */
import { request } from '../api/client';

/** So long a browser may take until it has taken a file up, ms. */
const TAKEN_MS = 60_000;

/** The name an answer gives itself, else another. */
export const nameOf = (disposition: string | null, otherwise: string) =>
  /filename="([^"]+)"/.exec(disposition ?? '')?.[1] ?? otherwise;

/** Gives a file to the browser to keep. */
export function keep(file: Blob, name: string) {
  const link = document.createElement('a');
  link.href = URL.createObjectURL(file);
  link.download = name;
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), TAKEN_MS);
}

/** Keeps a file of the server; throws what it is refused for, of which a browser's own download says nothing. */
export async function saveFile(path: string, otherwise: string) {
  const response = await request('GET', path);
  keep(await response.blob(), nameOf(response.headers.get('content-disposition'), otherwise));
}
