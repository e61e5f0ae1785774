/* Service worker: the app opens without a network. It keeps the app's own files and nothing else; jobs are kept by the
   page itself. Built by offline.ts, which fills in the version and the files. */
const CACHE = `loamline-${'the version'}`;
const FILES = ['the files'];

self.addEventListener('install', (event) => {
  event.waitUntil(
    caches
      .open(CACHE)
      .then((cache) => cache.addAll(FILES.map((file) => new Request(file, { cache: 'no-cache' }))))
      .then(() => self.skipWaiting()),
  );
});

self.addEventListener('activate', (event) => {
  event.waitUntil(
    (async () => {
      // The version before this one stays: a page of it may still be open and want its parts.
      const old = (await caches.keys()).filter((name) => name.startsWith('loamline-') && name !== CACHE);
      await Promise.all(old.slice(0, -1).map((name) => caches.delete(name)));
      await self.clients.claim();
    })(),
  );
});

self.addEventListener('fetch', (event) => {
  const { request } = event;
  const url = new URL(request.url);
  // What a client is shown by a link is no part of the app, nor is coming back from where the firm signs people in.
  const elsewhere = ['/api', '/client', '/sign-in'].some((start) => url.pathname.startsWith(start));
  if (request.method !== 'GET' || url.origin !== self.location.origin || elsewhere) return;
  const wanted = request.mode === 'navigate' ? '/' : request;
  event.respondWith(
    (async () => {
      const cache = await caches.open(CACHE);
      return (await cache.match(wanted)) ?? (await caches.match(wanted)) ?? fetch(request);
    })(),
  );
});
