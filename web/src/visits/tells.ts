import { say } from '../words/spoken.svelte';

/**
 * How much the next test tells, in words: the drop of entropy expected of it against the entropy there is, which is what not
 * knowing comes to. Three quarters and a third of it are common practice, no source.
 */
export function tells(bits: number, chances: number[]): string {
  const all = chances.reduce((sum, p) => sum + p, 0);
  const open = chances.reduce((sum, p) => (p > 0 ? sum - (p / all) * Math.log2(p / all) : sum), 0);
  if (bits >= 0.75 * open) return say('most likely settles it');
  return bits >= open / 3 ? say('narrows it a lot') : say('narrows it a little');
}
