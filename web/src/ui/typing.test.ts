import { afterEach, beforeEach, expect, it } from 'vitest';
import { watchHands } from '../state/unsaved';
import { isForTheJob } from './typing';

let over = () => {};
beforeEach(() => (over = watchHands()));
afterEach(() => {
  over();
  document.body.innerHTML = '';
});

/** Whether undo is the job's while the key goes to an element. */
function forTheJob(element: Element): boolean {
  let answer = false;
  const heard = (e: Event) => (answer = isForTheJob(e as KeyboardEvent));
  element.addEventListener('keydown', heard);
  element.dispatchEvent(new KeyboardEvent('keydown', { key: 'z', ctrlKey: true, bubbles: true }));
  element.removeEventListener('keydown', heard);
  return answer;
}

it("undo is the job's in a box that shows what holds, and the box's while somebody types there", () => {
  document.body.innerHTML = '<input id="a" value="3 m" /><select></select><form><input id="b" /></form>';
  const [a, b] = [...document.querySelectorAll('input')] as [HTMLInputElement, HTMLInputElement];
  a.dispatchEvent(new Event('focusin', { bubbles: true }));
  expect(forTheJob(a)).toBe(true);
  a.value = '5';
  a.dispatchEvent(new Event('input', { bubbles: true }));
  expect(forTheJob(a)).toBe(false);
  a.dispatchEvent(new Event('change', { bubbles: true }));
  expect(forTheJob(a)).toBe(true);
  // What was refused stands there still and is not what holds.
  a.setAttribute('aria-invalid', 'true');
  expect(forTheJob(a)).toBe(false);
  a.removeAttribute('aria-invalid');
  expect(forTheJob(document.querySelector('select')!)).toBe(true);
  // What stands in a form is not the job's yet, and behind a dialog nothing is undone.
  expect(forTheJob(b)).toBe(false);
  document.body.insertAdjacentHTML('beforeend', '<dialog open></dialog>');
  expect(forTheJob(a)).toBe(false);
});
