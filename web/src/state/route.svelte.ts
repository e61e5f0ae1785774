/** Where the person is: the job and the page, kept in the address after `#`. */

export const PAGES = ['brief', 'site', 'sound', 'cable', 'processing', 'papers', 'visits'] as const;
export type Page = (typeof PAGES)[number];

export const TITLES: Record<Page, string> = {
  brief: 'Brief',
  site: 'Site',
  sound: 'Sound',
  cable: 'Cable',
  processing: 'Processing',
  papers: 'Papers',
  visits: 'Visits',
};

class Route {
  job = $state<string | null>(null);
  page = $state<Page>('brief');

  constructor() {
    this.read();
    addEventListener('hashchange', () => this.read());
  }

  read() {
    const [, job, page] = location.hash.replace(/^#/, '').split('/');
    this.job = job ? decodeURIComponent(job) : null;
    this.page = PAGES.find((p) => p === page) ?? 'brief';
  }

  go(job: string | null, page: Page = 'brief') {
    location.hash = job ? `/${encodeURIComponent(job)}/${page}` : '/';
  }

  href(page: Page) {
    return `#/${encodeURIComponent(this.job ?? '')}/${page}`;
  }
}

export const route = new Route();
