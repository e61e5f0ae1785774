import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { watchLeaving } from './leaving';
import {
  handsOff,
  holds,
  holdsForNow,
  isBeingTyped,
  isLeaving,
  nothingUnsaved,
  QUIET_MS,
  watchHands,
} from './unsaved';

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

describe('a window that is closed', () => {
  let stop = () => {};
  beforeEach(() => (stop = watchLeaving()));
  afterEach(() => stop());
  /** Closes the window; whether its owner is asked first. */
  const asked = () => !window.dispatchEvent(new Event('beforeunload', { cancelable: true }));

  it('takes over what stands typed, and asks while it is on its way', () => {
    document.body.innerHTML = '<input id="a" />';
    const box = document.querySelector('input')!;
    const sent: [string, boolean][] = [];
    box.addEventListener('change', () => sent.push([box.value, isLeaving()]));
    expect(asked()).toBe(false);
    type(box, 'mind the pipe');
    let saving = true;
    const letGo = holds(() => saving);
    expect(asked()).toBe(true);
    expect(sent).toEqual([['mind the pipe', true]]);
    saving = false;
    // It is taken over once.
    expect(asked()).toBe(false);
    expect(sent.length).toBe(1);
    letGo();
  });

  it('asks for what a form holds and for what was refused, not for what is searched or made again by itself', () => {
    document.body.innerHTML = '<form><input id="a" /></form><input id="b" type="search" />';
    const [a, b] = [...document.querySelectorAll('input')] as [HTMLInputElement, HTMLInputElement];
    const letGo = holdsForNow(() => true);
    type(b, 'bollard');
    expect(asked()).toBe(false);
    type(a, '14.3');
    expect(asked()).toBe(true);
    document.body.innerHTML = '<input aria-invalid="true" value="loud" />';
    expect(asked()).toBe(true);
    letGo();
  });

  it('on a phone, which asks nobody, sends it as the page goes', () => {
    document.body.innerHTML = '<input id="a" />';
    const box = document.querySelector('input')!;
    let sent = '';
    box.addEventListener('change', () => (sent = box.value));
    type(box, 'wet here');
    window.dispatchEvent(new Event('pagehide'));
    expect(sent).toBe('wet here');
  });
});

it('a box is being typed in until it is taken over, or stands as it stood', () => {
  document.body.innerHTML = '<input id="a" value="3 m" />';
  const box = document.querySelector('input')!;
  fire(box, 'focusin');
  expect(isBeingTyped(box)).toBe(false);
  type(box, '5 m');
  expect(isBeingTyped(box)).toBe(true);
  type(box, '3 m');
  expect(isBeingTyped(box)).toBe(false);
  type(box, '5 m');
  fire(box, 'change');
  expect(isBeingTyped(box)).toBe(false);
});
