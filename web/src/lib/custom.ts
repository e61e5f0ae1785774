/**
 * What is usual where a job is built: lengths, money, mains, paper. A new job is told which it gets, and `loamline new` gives the same.
 */
import type { LengthUnit } from './units';
import type { Patch } from './pointer';
import { say } from '../words/spoken.svelte';

export interface Custom {
  /** What there is to choose. */
  label: string;
  /** What a job begun so counts in, for whoever was not asked one by one. */
  about: string;
  /** The edit a new job begins with. */
  patch: Patch;
  /** Mains and sheet of a job that says none of them. */
  mains: string;
  circuit: string;
  paper: string;
}

export const CUSTOMS: Record<LengthUnit, Custom> = {
  m: {
    label: 'Metres, EUR',
    about:
      "Amounts in EUR with the price book's tax; units, money, tax, mains and paper are changed under Brief.",
    patch: [{ op: 'add', path: '/job/units', value: 'metric' }],
    mains: '230 V',
    circuit: '16 A',
    paper: 'A4',
  },
  ft: {
    label: 'Feet and inches, USD',
    about: 'Amounts in USD without tax; units, money, tax, mains and paper are changed under Brief.',
    patch: [
      { op: 'add', path: '/job/units', value: 'us' },
      { op: 'add', path: '/job/language', value: 'en-us' },
      { op: 'add', path: '/job/currency', value: 'USD' },
      { op: 'add', path: '/job/tax', value: 0 },
    ],
    mains: '120 V',
    circuit: '20 A',
    paper: 'Letter',
  },
};

/** What goes with the units of a job: where it says none of them, metres. */
export const customOf = (units: string | null | undefined): Custom => CUSTOMS[units === 'us' ? 'ft' : 'm'];

/** In which lengths things that were brought in are shown. */
export const shownIn = (unit: LengthUnit) =>
  unit === 'm'
    ? say(
        'Bare numbers in the file count as metres. Lengths are shown in metres, as the job has them (under Brief).',
      )
    : say(
        'Bare numbers in the file count as metres. Lengths are shown in feet and inches, as the job has them (under Brief).',
      );
