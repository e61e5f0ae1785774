/** The part that stands before the app (public/start.js), in a page whose parts are not to be had. */
import { readFileSync } from 'node:fs';
import { afterEach, beforeEach, expect, it, vi } from 'vitest';

const source = readFileSync(`${import.meta.dirname}/../../public/start.js`, 'utf8');
const reload = vi.fn();
let heard: (event: { target: unknown }) => void = () => {};

/** What a tab remembers over its pages. */
let kept: Record<string, string> = {};
const sessionStorage = {
  getItem: (key: string) => kept[key] ?? null,
  setItem: (key: string, value: string) => void (kept[key] = value),
};

/** A new page of the tab; [`heard`] is what it does once a part has not come. */
function open() {
  document.body.innerHTML = '<div id="app"></div>';
  const addEventListener = (kind: string, hear: typeof heard, capture: boolean) => {
    // An error of an element rises to nobody: it is heard on the way down alone.
    expect([kind, capture]).toEqual(['error', true]);
    heard = hear;
  };
  new Function('addEventListener', 'sessionStorage', 'location', source)(addEventListener, sessionStorage, {
    reload,
  });
}
function missing(address: string) {
  const script = document.createElement('script');
  Object.defineProperty(script, 'src', { value: address });
  heard({ target: script });
}

beforeEach(() => {
  kept = {};
  reload.mockReset();
});
afterEach(() => void (document.body.innerHTML = ''));

it('loads the page anew once, then says what is the matter, with a button', () => {
  open();
  missing('http://127.0.0.1/assets/index-old.js');
  missing('http://127.0.0.1/assets/index-old.css');
  expect(reload).toHaveBeenCalledTimes(1);
  expect(document.querySelector('#app')!.textContent).toBe('');
  open();
  missing('http://127.0.0.1/assets/index-old.js');
  expect(reload).toHaveBeenCalledTimes(1);
  expect(document.querySelector('[role=alert]')!.textContent).toMatch('is not to be had');
  expect(document.querySelector('button')!.textContent).toBe('Load anew');
});

it('leaves a page alone whose app is there, and what is none of its parts', () => {
  open();
  missing('http://127.0.0.1/api/jobs/a/attachments/b.png');
  document.querySelector('#app')!.innerHTML = '<main></main>';
  missing('http://127.0.0.1/assets/pdf-old.js');
  expect(reload).not.toHaveBeenCalled();
});
