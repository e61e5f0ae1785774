import { afterEach, expect, it } from 'vitest';
import { nameUnder } from './named';

afterEach(() => void (document.body.innerHTML = ''));

it('an icon alone says what it does under a pointer, and its new name once it has one', () => {
  document.body.innerHTML = '<button class="icon plain" aria-label="Take out rack R1"><svg></svg></button>';
  const button = document.querySelector('button')!;
  nameUnder(document.querySelector('svg'));
  expect(button.title).toBe('Take out rack R1');
  button.setAttribute('aria-label', 'Take out rack R2');
  nameUnder(button);
  expect(button.title).toBe('Take out rack R2');
});

it('what has a title of its own, or words in it, is left alone', () => {
  document.body.innerHTML =
    '<button class="icon" aria-label="Closer" title="Closer: +"></button><button aria-label="Compare A">Compare</button>';
  const [closer, compare] = document.querySelectorAll('button');
  for (const button of [closer!, compare!, null]) nameUnder(button);
  expect(closer!.title).toBe('Closer: +');
  expect(compare!.title).toBe('');
});
