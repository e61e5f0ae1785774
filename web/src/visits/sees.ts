/** What a reading on a good line is a reading of, in the words of crates/faults/src/sees.rs. */
import type { components } from '../api/schema';
import { say } from '../words/spoken.svelte';

export type Sees = components['schemas']['Sees'];

export const SEES: Record<Sees, string> = {
  cable:
    'Before the first loudspeaker there is cable alone: the meter shows an open line unless the far end is joined.',
  primary_copper:
    "A steady current sees the cable and the primary's copper of each transformer alone; the loudspeakers behind them do not show.",
  voice_coils: 'A steady current sees the cable and the copper of the voice coils.',
  primary_copper_and_voice_coils:
    "A steady current sees the cable, the primary's copper of the transformers, and the voice coils of loudspeakers without one.",
  loudspeakers_through_transformers:
    'An alternating current sees the loudspeakers through their transformers.',
  loudspeakers: 'An alternating current sees the loudspeakers themselves.',
};

/** Each in words once, in the order they first come; those a pack of an earlier version does not know are left out. */
export const seesWords = (all: (Sees | undefined)[]): string[] =>
  [...new Set(all)].flatMap((sees) => (sees ? [say(SEES[sees])] : []));
