/** Vite plugin: the service worker with the list of everything the app is made of, so that it opens without a network. */
import { createHash } from 'node:crypto';
import { readdirSync, readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import type { Plugin } from 'vite';

const here = (path: string) => fileURLToPath(new URL(path, import.meta.url));

/** Not taken along: brings in PDF plans, which is office work, and is larger than everything else together. */
const LEFT_OUT = /pdf/i;

export function offline(): Plugin {
  return {
    name: 'loamline-offline',
    apply: 'build',
    generateBundle: {
      order: 'post',
      handler(_, bundle) {
        const built = Object.keys(bundle).filter((name) => !LEFT_OUT.test(name) && name !== 'index.html');
        const files = [...built, ...readdirSync(here('./public'))].map((name) => `/${name}`).sort();
        const worker = readFileSync(here('./src/visits/worker.js'), 'utf8');
        const all = createHash('sha256').update(worker);
        for (const part of Object.values(bundle)) all.update(part.type === 'chunk' ? part.code : part.source);
        for (const name of readdirSync(here('./public'))) all.update(readFileSync(here(`./public/${name}`)));
        const version = all.digest('hex').slice(0, 16);
        const source = worker
          .replace("'the version'", JSON.stringify(version))
          .replace("['the files']", JSON.stringify(['/', ...files]));
        this.emitFile({ type: 'asset', fileName: 'sw.js', source });
      },
    },
  };
}
