/** Files of the server kept on the disk. */
import { request } from '../api/client';

/** So long a browser may take until it has taken a file up, ms. */
const TAKEN_MS = 60_000;

/** The name an answer gives itself, else another. */
export const nameOf = (disposition: string | null, otherwise: string) =>
  /filename="([^"]+)"/.exec(disposition ?? '')?.[1] ?? otherwise;

/** Keeps a file; throws what it is refused for, of which a browser's own download says nothing. */
export async function saveFile(path: string, otherwise: string) {
  const response = await request('GET', path);
  const address = URL.createObjectURL(await response.blob());
  const link = document.createElement('a');
  link.href = address;
  link.download = nameOf(response.headers.get('content-disposition'), otherwise);
  link.click();
  setTimeout(() => URL.revokeObjectURL(address), TAKEN_MS);
}
