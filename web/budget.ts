/**
 * Vite plugin: what a browser has to bring before it shows anything (the page, the app's first part with all that it imports,
 * its style sheets and the letters of their texts) is measured compressed, and a build that is larger than agreed fails.
 */
import { gzipSync } from 'node:zlib';
import type { Plugin } from 'vite';

/** At most so much, bytes after gzip: a second on a telephone's usual connection of 3 Mbit/s (common practice, no source). */
const MOST = 350_000;
/** Letters that the first page is set in; the other scripts' come when their letters do. */
const LETTERS = /barlow-latin-(400|500|600)-normal-[^/]*\.woff2$/;

interface Part {
  type: 'chunk' | 'asset';
  isEntry?: boolean;
  imports?: readonly string[];
  code?: string;
  source?: string | Uint8Array;
  viteMetadata?: { importedCss: Set<string> };
}

/** Names of everything that is needed first. */
function firstNeeded(bundle: Readonly<Record<string, Part>>): Set<string> {
  const needed = new Set(Object.keys(bundle).filter((name) => name === 'index.html' || LETTERS.test(name)));
  const open = Object.keys(bundle).filter((name) => bundle[name]!.isEntry);
  for (let name = open.pop(); name !== undefined; name = open.pop()) {
    if (needed.has(name)) continue;
    needed.add(name);
    for (const css of bundle[name]?.viteMetadata?.importedCss ?? []) needed.add(css);
    open.push(...(bundle[name]?.imports ?? []));
  }
  return needed;
}

const size = (name: string, part: Part) => {
  const text = part.type === 'chunk' ? part.code : part.source;
  // Letters are compressed already.
  return name.endsWith('.woff2') ? text!.length : gzipSync(text ?? '').length;
};

export function budget(): Plugin {
  return {
    name: 'loamline-budget',
    apply: 'build',
    generateBundle: {
      order: 'post',
      handler(_, bundle) {
        const parts = bundle as unknown as Record<string, Part>;
        const each = [...firstNeeded(parts)]
          .filter((name) => parts[name])
          .map((name) => ({ name, bytes: size(name, parts[name]!) }));
        const all = each.reduce((sum, { bytes }) => sum + bytes, 0);
        const told = `needed first: ${(all / 1000).toFixed(0)} kB compressed, at most ${MOST / 1000} kB`;
        if (all <= MOST) {
          this.info(told);
          return;
        }
        const largest = each.sort((a, b) => b.bytes - a.bytes).slice(0, 8);
        this.error(
          [told, ...largest.map(({ name, bytes }) => `  ${(bytes / 1000).toFixed(0)} kB ${name}`)].join('\n'),
        );
      },
    },
  };
}
