/** Ids made on the phone: short enough to read, so random that two phones never make the same. */

// No letters that read like digits.
const LETTERS = 'abcdefghjkmnpqrstuvwxyz23456789';

export function letters(count: number): string {
  const random = crypto.getRandomValues(new Uint32Array(count));
  return [...random].map((n) => LETTERS[n % LETTERS.length]).join('');
}

/** A prefix (cut where a tag would get too long) and eight letters: one in 10^11 for any two. */
export const ownId = (prefix: string) =>
  `${prefix.replace(/[^\p{L}\p{N}._-]/gu, '-').slice(0, 22)}-${letters(8)}`;

/** The id of a tick: the same on every phone, so that two people ticking one thing meet. */
export const tickId = (...parts: string[]) => {
  const id = parts.join('-').replace(/[^\p{L}\p{N}._-]/gu, '-');
  return id.length <= 32 ? id : `${id.slice(0, 23)}-${hash(id)}`;
};

/** Eight hexadecimal digits of a text (FNV-1a). */
export function hash(text: string): string {
  let h = 0x811c9dc5;
  for (const c of new TextEncoder().encode(text)) h = Math.imul(h ^ c, 0x01000193) >>> 0;
  return h.toString(16).padStart(8, '0');
}
