/** This phone's clock against the office machine's. */
import { say } from '../words/spoken.svelte';

/** A difference people would not notice, ms: the way there takes time too. */
const NOTHING_MS = 120_000;

/** What to add to this phone's clock, ms, from what the office machine's clock showed at a moment of this phone's. */
export function difference(office: string, phone_ms: number): number {
  const ms = Date.parse(office) - phone_ms;
  return Number.isFinite(ms) && Math.abs(ms) > NOTHING_MS ? ms : 0;
}

/** Today as year-month-day, where the phone is, by the office machine's clock. */
export function today(clock_ms: number, now_ms = Date.now()): string {
  const d = new Date(now_ms + clock_ms);
  const two = (n: number) => String(n).padStart(2, '0');
  return `${d.getFullYear()}-${two(d.getMonth() + 1)}-${two(d.getDate())}`;
}

/** A clock difference in words: "1 day ahead", "40 minutes behind". */
export function differs(clock_ms: number): string {
  const minutes = Math.round(Math.abs(clock_ms) / 60_000);
  const [hours, days] = [Math.round(minutes / 60), Math.round(minutes / 1440)];
  const counted = (n: number, one: string, many: string) => (n === 1 ? one : many);
  const time =
    minutes < 90
      ? counted(minutes, say('1 minute'), say('{count} minutes', { count: minutes }))
      : minutes < 20 * 60
        ? counted(hours, say('1 hour'), say('{count} hours', { count: hours }))
        : counted(days, say('1 day'), say('{count} days', { count: days }));
  return clock_ms < 0 ? say('{time} ahead', { time }) : say('{time} behind', { time });
}
