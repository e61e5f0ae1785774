/** The keys of the app, for the list that `?` shows; those of tools come from the tools. */
import { CHOOSE_KEY, FORMS, JOINT, TOOLS } from '../plan/tools';

export interface KeyGroup {
  title: string;
  keys: readonly [keys: readonly string[], does: string][];
}

const letter = (key: string) => [key.toUpperCase()];

export const KEYS: readonly KeyGroup[] = [
  {
    title: 'Everywhere',
    keys: [
      [['?'], 'This list'],
      [['Ctrl+K'], 'Search what can be done'],
      [['Ctrl+Z'], 'Undo'],
      [['Ctrl+Y'], 'Redo'],
      [['Delete'], 'Take out what is chosen'],
      [['Escape'], 'End what is under way, the innermost first'],
    ],
  },
  {
    title: 'On the plan',
    keys: [
      [['Arrows'], 'Move what is chosen, or the plan; with Shift ten times as far'],
      [['+', '-'], 'Closer, farther'],
      [['0'], 'Show the whole site'],
      [['Shift+click'], 'Choose one more, or one less'],
      [['Shift+drag'], 'Choose what lies inside a frame'],
      [letter('m'), 'Choose several, as with Shift held'],
      [['Ctrl+A'], 'Choose all'],
      [[',', '.'], 'On Sound: turn the loudspeaker'],
    ],
  },
  {
    title: 'While drawing',
    keys: [
      [['Figures'], 'Type the length of the side that comes next'],
      [['Tab'], 'From the length to the bearing'],
      [['Enter'], 'Set what is typed, or a corner at the cross hair; in the same place again it ends'],
      [['Arrows'], 'Move the cross hair'],
      [['Backspace'], 'Take the last corner back'],
      [['Escape'], 'Let the drawing go; again, the tool'],
    ],
  },
  {
    title: 'Tools on Site and Cable',
    keys: [
      [letter(CHOOSE_KEY), 'Choose'],
      ...FORMS.map((f): [string[], string] => [letter(f.hotkey), f.label]),
      ...[...TOOLS, JOINT].map((t): [string[], string] => [letter(t.hotkey), t.label]),
    ],
  },
];
