/** Something to tick off. */
import { noted, type Values } from '../words/spoken.svelte';
import type { Done } from './document';

export interface Task {
  id: string;
  done: Partial<Done> & Pick<Done, 'work'>;
  /** What is to be done, in the language that is spoken. */
  label: string;
  /** The same in English, for the log. */
  note: string;
  detail?: string | null;
}

/** What a task is called. */
export const task = (english: string, values: Values = {}): Pick<Task, 'label' | 'note'> => {
  const { note, said } = noted(english, values);
  return { label: said, note };
};
