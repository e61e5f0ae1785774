import { say } from '../words/spoken.svelte';

/** How loud the system is played: as it is set, in the evening, by night; as `study` has it. */
export type When = 'party' | 'evening' | 'night';

export interface Way {
  when: When;
  /** How far it is turned down, dB. */
  down_db: number;
  /** In words, for a button. */
  text: string;
}

interface Quieter {
  evening_turn_down?: number | null;
  night_turn_down: number;
}
interface Limited {
  night: number | null;
  night_63hz?: number | null;
}

/** Every way a job is played, the loudest first. */
export function waysOf(brief: Quieter, neighbours: readonly Limited[]): Way[] {
  const ways: Way[] = [{ when: 'party', down_db: 0, text: say('As set, for a party') }];
  const evening = brief.evening_turn_down ?? null;
  if (evening !== null) ways.push({ when: 'evening', down_db: evening, text: say('Evening') });
  const limited = neighbours.some((n) => n.night !== null || (n.night_63hz ?? null) !== null);
  if (brief.night_turn_down > 0 || limited)
    ways.push({ when: 'night', down_db: brief.night_turn_down, text: say('Night') });
  return ways;
}
