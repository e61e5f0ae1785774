import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { handsOff, holds, nothingUnsaved, QUIET_MS, watchHands } from './unsaved';

let over = () => {};
beforeEach(() => (over = watchHands()));
afterEach(() => {
  over();
  document.body.innerHTML = '';
});

const fire = (e: Element, kind: string) => e.dispatchEvent(new Event(kind, { bubbles: true }));
function type(box: HTMLInputElement, text: string) {
  box.value = text;
  fire(box, 'input');
}

describe('what would be lost', () => {
  it('is what stands half entered in a box, until it is taken over or cleared', () => {
    document.body.innerHTML = '<input id="a" /><form><input id="b" /></form>';
    const [a, b] = [...document.querySelectorAll('input')] as [HTMLInputElement, HTMLInputElement];
    expect(nothingUnsaved()).toBe(true);
    type(a, '12 dB');
    expect(nothingUnsaved()).toBe(false);
    fire(a, 'change');
    expect(nothingUnsaved()).toBe(true);
    // What stands in a form counts until the form is sent: leaving its box sends nothing.
    type(b, '14.3');
    fire(b, 'change');
    expect(nothingUnsaved()).toBe(false);
    fire(document.querySelector('form')!, 'submit');
    expect(nothingUnsaved()).toBe(true);
    type(b, '14.3');
    type(b, '');
    expect(nothingUnsaved()).toBe(true);
    // With its page it is gone.
    type(b, '14.3');
    b.remove();
    expect(nothingUnsaved()).toBe(true);
  });

  it('is what was refused, what is asked and what is being made', () => {
    for (const html of [
      '<input aria-invalid="true" value="loud" />',
      '<dialog open></dialog>',
      '<button aria-busy="true"></button>',
    ]) {
      document.body.innerHTML = html;
      expect(nothingUnsaved(), html).toBe(false);
    }
    document.body.innerHTML =
      '<input aria-invalid="false" /><dialog></dialog><button aria-busy="false"></button>';
    expect(nothingUnsaved()).toBe(true);
  });

  it('is what somebody says they hold, as long as they do', () => {
    let holding = true;
    const letGo = holds(() => holding);
    expect(nothingUnsaved()).toBe(false);
    holding = false;
    expect(nothingUnsaved()).toBe(true);
    holding = true;
    letGo();
    expect(nothingUnsaved()).toBe(true);
  });
});

it('a hand is at work until some seconds after its last touch', () => {
  expect(handsOff()).toBe(true);
  fire(document.body, 'pointerdown');
  expect(handsOff()).toBe(false);
  expect(handsOff(performance.now() + QUIET_MS + 1)).toBe(true);
});
