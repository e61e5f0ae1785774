/** What is next while nothing sounds: the first thing that is missing, and where it is made. */
import type { JobDocument } from '../api/document';
import type { Page } from '../state/route.svelte';
import { say } from '../words/spoken.svelte';

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
    return { text: say('Draw where people listen, and say how loud it should be.'), page: 'site' };
  if (!some(doc.programmes))
    return { text: say('Say what is played: without a programme no level can be stated.'), page: 'brief' };
  if (!some(doc.loudspeakers)) {
    return {
      text: say('Have a design proposed, or place loudspeakers by hand.'),
      tabs: [
        { tab: 'propose', text: say('Have it proposed') },
        { tab: 'place', text: say('Place by hand') },
      ],
    };
  }
  const loose = Object.entries(doc.loudspeakers)
    .filter(([, l]) => !l.line)
    .map(([id]) => id);
  if (loose.length === Object.keys(doc.loudspeakers).length) {
    const text =
      loose.length === 1
        ? say('{id} hangs on no line: make a line and put them on it.', { id: loose[0]! })
        : say('{count} loudspeakers hang on no line: make a line and put them on it.', {
            count: loose.length,
          });
    return { text, page: 'cable' };
  }
  const dead = Object.entries(doc.lines).filter(([, l]) => !l.channel);
  if (dead.length)
    return { text: say('Line {line} is fed by no channel.', { line: dead[0]![0] }), page: 'cable' };
  return { text: say('What keeps it silent stands in the findings below.') };
}
