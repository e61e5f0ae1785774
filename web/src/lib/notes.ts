/** What entries of the log are called, as whoever reads them reads it: the log itself is in English. */
import { say } from '../words/spoken.svelte';

const lower = (text: string) => text.charAt(0).toLowerCase() + text.slice(1);
const upper = (text: string) => text.charAt(0).toUpperCase() + text.slice(1);

/** A field by its label, which the log has in small letters. */
const field = (name: string) => lower(say(upper(name)));

/** How entries begin, the more particular first; what is behind is said where there is a text for it, and stands as it is elsewhere. */
const WAYS: [RegExp, (parts: string[]) => string][] = [
  [
    /^Change (.+?) of (.+)$/,
    ([what, thing]) => say('Change {what} of {thing}', { what: field(what!), thing: say(thing!) }),
  ],
  [/^Change (.+)$/, ([what]) => say('Change {name}', { name: field(what!) })],
  [/^Move (.+)$/, ([name]) => say('Move {name}', { name: say(name!) })],
  [/^Take out (.+)$/, ([name]) => say('Take out {name}', { name: say(name!) })],
  [/^Add (.+)$/, ([name]) => say('Add {name}', { name: say(name!) })],
  [/^Status: (.+)$/, ([status]) => say('Status: {status}', { status: say(status!) })],
];

/** The note of an entry in the language that is spoken; a person's own words stand as they are. */
export function noteTold(note: string): string {
  const whole = say(note);
  if (whole !== note) return whole;
  for (const [way, told] of WAYS) {
    const found = way.exec(note);
    if (found) return told(found.slice(1));
  }
  return note;
}
