/** Where the person is: the job and the page, kept in the address after `#`. */

/** The pages in the order of the work. */
export const PAGES = ['brief', 'site', 'sound', 'cable', 'processing', 'papers', 'visits'] as const;
/** Pages beside them: opened from where they are of use. */
const BESIDE = ['equipment'] as const;
export type WorkPage = (typeof PAGES)[number];
export type Page = WorkPage | (typeof BESIDE)[number];

/** The address of what is the same for every job. */
const FIRM = '#firm';

export const TITLES: Record<Page, string> = {
  brief: 'Brief',
  site: 'Site',
  sound: 'Sound',
  cable: 'Cable',
  processing: 'Processing',
  papers: 'Papers',
  visits: 'Visits',
  equipment: 'Equipment',
};

class Route {
  job = $state<string | null>(null);
  page = $state<Page>('brief');
  /** Whether it is the firm's page that is open. */
  firm = $state(false);

  constructor() {
    this.read();
    addEventListener('hashchange', () => this.read());
  }

  read() {
    const [, job, page] = location.hash.replace(/^#/, '').split('/');
    this.job = job ? decodeURIComponent(job) : null;
    this.page = [...PAGES, ...BESIDE].find((p) => p === page) ?? 'brief';
    this.firm = location.hash === FIRM;
  }

  go(job: string | null, page: Page = 'brief') {
    location.hash = job ? `/${encodeURIComponent(job)}/${page}` : '/';
  }

  href(page: Page) {
    return `#/${encodeURIComponent(this.job ?? '')}/${page}`;
  }
}

export const route = new Route();
