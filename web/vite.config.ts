import { svelte } from '@sveltejs/vite-plugin-svelte';
import { defineConfig } from 'vitest/config';
import { budget } from './budget';
import { offline } from './offline';

// Where `npm run dev` finds a running server; the built app is embedded in the server itself.
const server = process.env.LOAMLINE_SERVER ?? 'http://127.0.0.1:7410';

export default defineConfig({
  plugins: [svelte(), offline(), budget()],
  // Tests mount components: the browser's build of Svelte, not the server's.
  ...(process.env.VITEST ? { resolve: { conditions: ['browser'] } } : {}),
  build: {
    target: 'es2022',
    // The Content-Security-Policy lets nothing inline in: no inlined assets, no inline preload helper.
    assetsInlineLimit: 0,
    modulePreload: { polyfill: false },
  },
  server: {
    proxy: {
      '/api': { target: server, ws: true, changeOrigin: true, headers: { origin: server } },
      '/client': { target: server, changeOrigin: true, headers: { origin: server } },
    },
  },
  test: { environment: 'happy-dom', include: ['src/**/*.test.ts'] },
});
