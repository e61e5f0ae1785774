import { expect, it } from 'vitest';
import { commands, found } from './commands.svelte';

const ALL = ['Go to Site', 'Draw: Rectangle', 'Draw: Rack', 'Show the whole site', 'Choose Café terrace'].map(
  (name) => ({ name }),
);
const names = (typed: string) => found(ALL, typed).map((c) => c.name);

it('finds what has every word typed, what begins with it first', () => {
  expect(names('')).toEqual(ALL.map((c) => c.name));
  expect(names('dr re')).toEqual(['Draw: Rectangle']);
  expect(names('rac')).toEqual(['Draw: Rack', 'Choose Café terrace']);
  expect(names('show SITE')).toEqual(['Show the whole site']);
  expect(names('cafe')).toEqual(['Choose Café terrace']);
  expect(names('house')).toEqual([]);
});

it('finds a tag before those that begin with it', () => {
  const tags = ['Choose loudspeaker L10', 'Choose run A-12', 'Choose loudspeaker L1', 'Choose run A-1'].map(
    (name) => ({ name }),
  );
  expect(found(tags, 'l1').map((c) => c.name)).toEqual(['Choose loudspeaker L1', 'Choose loudspeaker L10']);
  expect(found(tags, 'a-1').map((c) => c.name)).toEqual(['Choose run A-1', 'Choose run A-12']);
});

it('what a page offers is there as long as the page is', () => {
  const leave = commands.offer(() => [{ name: 'Draw: Rack', act: () => {} }]);
  expect(commands.all.map((c) => c.name)).toEqual(['Draw: Rack']);
  leave();
  expect(commands.all).toEqual([]);
});
