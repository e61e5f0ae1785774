/**
 * Where the person is on the phone: `#along`, `#along/JOB/TAB`, `#along/JOB/TAB/THING`; or what a label's code asks for,
 * `#tag/JOB/SORT/TAG`.
 */
import { readLabel, type Label } from './label';

export const TABS = ['measure', 'work', 'plan', 'papers', 'years'] as const;
export type Tab = (typeof TABS)[number];
export const TAB_TITLES: Record<Tab, string> = {
  measure: 'Measure',
  work: 'Work',
  plan: 'Plan',
  papers: 'Papers',
  years: 'Years',
};

class Way {
  /** Whether the phone's pages are shown at all. */
  on = $state(false);
  job = $state<string | null>(null);
  tab = $state<Tab>('measure');
  /** A joint or loudspeaker, or a line to measure. */
  thing = $state<string | null>(null);
  /** What the code on a label asks for. */
  label = $state.raw<Label | null>(null);

  constructor() {
    this.read();
    addEventListener('hashchange', () => this.read());
  }

  read() {
    this.label = readLabel(location.hash);
    const [first, job, tab, thing] = location.hash.replace(/^#/, '').split('/').map(decodeURIComponent);
    this.on = first === 'along' || this.label !== null;
    this.job = (first === 'along' && job) || null;
    this.tab = TABS.find((t) => t === tab) ?? 'measure';
    this.thing = thing || null;
  }

  href(job: string | null, tab?: Tab, thing?: string) {
    const parts = ['along', job, job && tab, job && tab && thing].filter((p): p is string => Boolean(p));
    return `#${parts.map(encodeURIComponent).join('/')}`;
  }

  to(tab: Tab, thing?: string) {
    location.hash = this.href(this.job, tab, thing);
  }
}

export const way = new Way();
