/** Days as people write them, kept as the job has them: year-month-day (ISO 8601). */
import { say } from '../words/spoken.svelte';

/** An example of a day as the job has it. */
export const DAY_EXAMPLE = '2031-06-14';

/** Whether there is such a day. */
function isDay(year: number, month: number, day: number): boolean {
  const at = new Date(Date.UTC(year, month - 1, day));
  return at.getUTCFullYear() === year && at.getUTCMonth() === month - 1 && at.getUTCDate() === day;
}

const iso = (year: number, month: number, day: number) =>
  `${String(year).padStart(4, '0')}-${String(month).padStart(2, '0')}-${String(day).padStart(2, '0')}`;

/**
 * Reads a day: "2031-06-14", "14.6.2031"; with strokes the month comes first where `monthFirst`, and elsewhere only what can be
 * meant in one way is read. Tells it as the job has it, or what there is against it.
 */
export function readDay(text: string, monthFirst: boolean): { day: string } | { wrong: string } {
  const typed = text.trim();
  const wrong = {
    wrong: say('"{text}" is no day; write it such as {example}', { text: typed, example: DAY_EXAMPLE }),
  };
  const written = /^(\d{4})-(\d{1,2})-(\d{1,2})$/.exec(typed);
  if (written) {
    const [year, month, day] = written.slice(1).map(Number) as [number, number, number];
    return isDay(year, month, day) ? { day: iso(year, month, day) } : wrong;
  }
  const parted = /^(\d{1,2})([/.])\s?(\d{1,2})\2\s?(\d{4})$/.exec(typed);
  if (!parted) return wrong;
  const [first, second, year] = [Number(parted[1]), Number(parted[3]), Number(parted[4])];
  const dayFirst = isDay(year, second, first) ? iso(year, second, first) : null;
  // Points are written where the day comes first, and only there.
  if (parted[2] === '.') return dayFirst === null ? wrong : { day: dayFirst };
  const american = isDay(year, first, second) ? iso(year, first, second) : null;
  if (dayFirst !== null && american !== null && dayFirst !== american && !monthFirst)
    return {
      wrong: say('"{text}" may be {one} or {other}: write which', {
        text: typed,
        one: dayFirst,
        other: american,
      }),
    };
  const found = monthFirst ? (american ?? dayFirst) : (dayFirst ?? american);
  return found === null ? wrong : { day: found };
}
