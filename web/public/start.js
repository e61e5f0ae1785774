/* Stands before the app. Where a part of it is not to be had, an old page asking for parts of a version that is gone, the
   page is loaded anew, once; where that does not help it says so and stays no blank sheet. A file by itself, since the
   content policy lets nothing inline in, and in the plain words of a browser, since nothing else may have come. */
(() => {
  const KEY = 'loamline-parts';
  /** A second time within so long is no chance: it is told instead, ms. */
  const AGAIN_MS = 60_000;
  let done = false;

  /** Whether it may be tried by itself: not where nothing can be remembered, or it would go on for ever. */
  function first() {
    try {
      const last = Number(sessionStorage.getItem(KEY));
      sessionStorage.setItem(KEY, String(Date.now()));
      return Math.abs(Date.now() - last) > AGAIN_MS;
    } catch {
      return false;
    }
  }

  /** Loads from the machine itself, past what this browser keeps for work without a network; jobs and entries stay. */
  async function anew() {
    try {
      // Out of reach of the machine what is kept is all there is.
      await fetch('/', { method: 'HEAD', cache: 'no-store' });
      const kept = (await navigator.serviceWorker?.getRegistrations()) ?? [];
      await Promise.all(kept.map((worker) => worker.unregister()));
    } finally {
      location.reload();
    }
  }

  function tell() {
    const app = document.getElementById('app');
    if (!app || app.firstChild) return;
    const said = document.createElement('p');
    said.setAttribute('role', 'alert');
    said.textContent = 'A part of this page is not to be had from the machine that runs loamline.';
    const button = document.createElement('button');
    button.textContent = 'Load anew';
    button.addEventListener('click', () => void anew());
    app.append(said, button);
  }

  addEventListener(
    'error',
    ({ target }) => {
      const address = target instanceof HTMLScriptElement ? target.src : target?.href;
      if (done || !String(address).includes('/assets/')) return;
      // Once the app is there it looks after itself.
      if (document.getElementById('app')?.firstChild) return;
      done = true;
      if (first()) location.reload();
      else if (document.readyState === 'loading') document.addEventListener('DOMContentLoaded', tell);
      else tell();
    },
    true,
  );
})();
