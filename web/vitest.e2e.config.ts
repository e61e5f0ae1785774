import { defineConfig } from 'vitest/config';

// The app in Debian's Chromium against the real server: slow, one after the other.
export default defineConfig({
  test: {
    environment: 'node',
    include: ['e2e/**/*.spec.ts'],
    fileParallelism: false,
    testTimeout: 180_000,
    hookTimeout: 60_000,
  },
});
