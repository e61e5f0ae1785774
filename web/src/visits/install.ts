/** Registers the service worker of the built app. */
export function install() {
  if (!import.meta.env.PROD || !('serviceWorker' in navigator)) return;
  // Refused on an address that is not secure; the app then works in reach of the machine only.
  navigator.serviceWorker.register('/sw.js', { updateViaCache: 'none' }).catch(() => undefined);
}
