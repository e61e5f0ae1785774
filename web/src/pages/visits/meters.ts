/** What meters of a visit are for. */
import type { Meter } from '../../api/document';

/** By the words of the file, as people say them: a name of a meter's work in the middle of a sentence. */
export const METER_KINDS: Record<Meter['kind'], string> = {
  impedance: 'impedance of a line',
  resistance: 'resistance of a loop',
  insulation: 'insulation',
  level: 'sound level',
};
