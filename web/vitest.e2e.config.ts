import { svelte } from '@sveltejs/vite-plugin-svelte';
import { defineConfig } from 'vitest/config';

// The app in Debian's Chromium against the real server: slow, one after the other.
export default defineConfig({
  // What the phone works out is asked by itself too, and some of its modules keep state.
  plugins: [svelte()],
  test: {
    environment: 'node',
    include: ['e2e/**/*.spec.ts'],
    fileParallelism: false,
    testTimeout: 180_000,
    hookTimeout: 60_000,
  },
});
