/** What can be done where a person is, by name: pages say what they offer while they are open, the search finds it. */
import { untrack } from 'svelte';

export interface Command {
  name: string;
  /** The key that does it too. */
  keys?: string;
  act: () => void;
}

class Commands {
  #offers = $state.raw<readonly (() => Command[])[]>([]);
  readonly all = $derived(this.#offers.flatMap((offer) => offer()));

  /** Offers commands until the returned is called: from an effect, as long as its page is open. */
  offer(these: () => Command[]): () => void {
    this.#add(these);
    return () => this.#remove(these);
  }

  // Read and written in one go: an effect that offers must not be set off by its own offer.
  #add(these: () => Command[]) {
    untrack(() => (this.#offers = [...this.#offers, these]));
  }
  #remove(these: () => Command[]) {
    untrack(() => (this.#offers = this.#offers.filter((o) => o !== these)));
  }
}

export const commands = new Commands();

/**
 * Commands that have every word that was typed, those that have it whole or begin with it first: "dr re" finds "Draw: Rectangle",
 * "L1" finds L1 before L10.
 */
export function found<T extends { name: string }>(all: readonly T[], typed: string): T[] {
  const plain = (text: string) => text.toLowerCase().normalize('NFD').replace(/\p{M}/gu, '');
  const words = plain(typed).split(/\s+/).filter(Boolean);
  if (words.length === 0) return [...all];
  const rank = (name: string) => {
    const parts = plain(name).split(/[^\p{L}\p{N}]+/u);
    const whole = plain(name).split(/[\s:,]+/);
    let sum = 0;
    for (const word of words) {
      const begins = parts.findIndex((part) => part.startsWith(word));
      if (begins < 0 && !plain(name).includes(word)) return null;
      sum += begins === 0 ? 0 : begins > 0 ? 1 : 3;
      if (parts.includes(word) || whole.includes(word)) sum -= 0.5;
    }
    return sum;
  };
  return all
    .map((command, i) => ({ command, i, rank: rank(command.name) }))
    .filter((c): c is typeof c & { rank: number } => c.rank !== null)
    .sort((a, b) => a.rank - b.rank || a.i - b.i)
    .map((c) => c.command);
}
