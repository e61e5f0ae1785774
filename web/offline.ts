/**
 * Vite plugin: the service worker with the list of everything the app is made of, so that it opens without a network; and
 * what this build calls itself, in its page and its worker, so that a page kept from before knows that it is one.
 */
import { createHash } from 'node:crypto';
import { readdirSync, readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import type { IndexHtmlTransformContext, Plugin } from 'vite';

const here = (path: string) => fileURLToPath(new URL(path, import.meta.url));

/** Not taken along: brings in PDF plans, which is office work, and is larger than everything else together. */
const LEFT_OUT = /pdf/i;

type Bundle = NonNullable<IndexHtmlTransformContext['bundle']>;

/** What a build calls itself: the same for the same app, another for any other. */
function versionOf(page: string, worker: string, bundle: Bundle): string {
  const all = createHash('sha256').update(page).update(worker);
  for (const [name, part] of Object.entries(bundle).sort(([a], [b]) => (a < b ? -1 : 1)))
    all.update(name).update(part.type === 'chunk' ? part.code : part.source);
  for (const name of readdirSync(here('./public')).sort()) all.update(readFileSync(here(`./public/${name}`)));
  return all.digest('hex').slice(0, 16);
}

export function offline(): Plugin {
  const worker = readFileSync(here('./src/visits/worker.js'), 'utf8');
  let version = '';
  return {
    name: 'loamline-offline',
    apply: 'build',
    transformIndexHtml: {
      // Everything else the page and the app are made of is settled by then.
      order: 'post',
      handler(page, { bundle }) {
        version = versionOf(page, worker, bundle ?? {});
        const marked = page.replace('</title>', `$&\n    <meta name="loamline-app" content="${version}" />`);
        if (marked === page) throw new Error('index.html has no title to put the version behind');
        return marked;
      },
    },
    generateBundle: {
      order: 'post',
      handler(_, bundle) {
        if (!version) throw new Error('the page of the app was not made: its version is not known');
        const built = Object.keys(bundle).filter((name) => !LEFT_OUT.test(name) && name !== 'index.html');
        const files = [...built, ...readdirSync(here('./public'))].map((name) => `/${name}`).sort();
        const source = worker
          .replace("'the version'", JSON.stringify(version))
          .replace("['the files']", JSON.stringify(['/', ...files]));
        this.emitFile({ type: 'asset', fileName: 'sw.js', source });
      },
    },
  };
}
