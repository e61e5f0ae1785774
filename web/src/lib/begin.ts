/** What is next while nothing sounds: the first thing that is missing, and where it is made. */
import type { JobDocument } from '../api/document';
import type { Page } from '../state/route.svelte';

export interface Step {
  text: string;
  /** Page where it is made. */
  page?: Page;
  /** Or the part of the Sound page. */
  tabs?: { tab: string; text: string }[];
}

const some = (table: object) => Object.keys(table).length > 0;

export function nextToSound(doc: JobDocument): Step {
  if (!some(doc.areas))
    return { text: 'Draw where people listen, and say how loud it should be.', page: 'site' };
  if (!some(doc.programmes))
    return { text: 'Say what is played: without a programme no level can be stated.', page: 'brief' };
  if (!some(doc.loudspeakers)) {
    return {
      text: 'Have a design proposed, or place loudspeakers by hand.',
      tabs: [
        { tab: 'propose', text: 'Have it proposed' },
        { tab: 'place', text: 'Place by hand' },
      ],
    };
  }
  const loose = Object.entries(doc.loudspeakers)
    .filter(([, l]) => !l.line)
    .map(([id]) => id);
  if (loose.length === Object.keys(doc.loudspeakers).length) {
    const many = loose.length === 1 ? `${loose[0]} hangs` : `${loose.length} loudspeakers hang`;
    return { text: `${many} on no line: make a line and put them on it.`, page: 'cable' };
  }
  const dead = Object.entries(doc.lines).filter(([, l]) => !l.channel);
  if (dead.length) return { text: `Line ${dead[0]![0]} is fed by no channel.`, page: 'cable' };
  return { text: 'What keeps it silent stands in the findings below.' };
}
