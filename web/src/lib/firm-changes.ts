/** Several windows at the page of the firm: each changes its own part of what is kept by then, and says what that replaced. */
import type { FirmText } from '../api/shapes';
import { say } from '../words/spoken.svelte';

const said = (value: unknown) => (Array.isArray(value) ? value.join(', ') : String(value ?? ''));

/**
 * What a change replaces that its window never showed, in a sentence; `null` where it replaces nothing such. `before` is what was
 * shown, `now` what is kept by then.
 */
export function replaced(
  before: Partial<FirmText>,
  now: Partial<FirmText>,
  part: Partial<FirmText>,
): string | null {
  const over = (Object.keys(part) as (keyof FirmText)[])
    .filter((field) => said(now[field]) !== said(before[field]) && said(now[field]) !== said(part[field]))
    .map((field) => `"${said(now[field]) || say('nothing')}"`);
  return over.length
    ? say('What was typed here replaced {what}, set meanwhile.', { what: over.join(', ') })
    : null;
}
