/** Registers the service worker of the built app, and looks out for a newer one. */
import { watchVersion } from '../state/version.svelte';

/** Whether the app will open without a network on this phone. Not on an address the phone does not trust. */
export let opensOffline: Promise<boolean> = Promise.resolve(true);

export function install() {
  if (!import.meta.env.PROD) return;
  watchVersion();
  const worker = navigator.serviceWorker as ServiceWorkerContainer | undefined;
  opensOffline = worker
    ? worker.register('/sw.js', { updateViaCache: 'none' }).then(
        () => true,
        // Without a network the one from before stays.
        () => worker.getRegistration().then(Boolean),
      )
    : Promise.resolve(false);
}
