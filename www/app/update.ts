// Registers the service worker and tells when a newer page lies ready. It never reloads by itself: a reload in the
// middle of a take would lose the take, so the moment is the person's.

import { inOneFile } from './one_file';

export interface Update {
  /** Puts the newer page in place and reloads. Call it only from a click, and never while audio is open. */
  apply: () => void;
}

export function watchForUpdate(onReady: (update: Update) => void): void {
  if (!('serviceWorker' in navigator) || !window.isSecureContext || inOneFile()) return;
  whenIdle(() => {
    void register(onReady).catch(() => {
      // Without a service worker the page works all the same, only not offline.
    });
  });
}

/** The first visit fetches everything for later; that must not stand in the way of the first screen. */
function whenIdle(act: () => void): void {
  const MOST_MS = 2000;
  const soon = () => ('requestIdleCallback' in window ? window.requestIdleCallback(act, { timeout: MOST_MS }) : setTimeout(act, MOST_MS / 2));
  if (document.readyState === 'complete') soon();
  else window.addEventListener('load', soon, { once: true });
}

async function register(onReady: (update: Update) => void): Promise<void> {
  const registration = await navigator.serviceWorker.register('service-worker.js', { updateViaCache: 'none' });
  const offer = (worker: ServiceWorker) => onReady({ apply: () => apply(worker) });
  if (registration.waiting && navigator.serviceWorker.controller) offer(registration.waiting);
  registration.addEventListener('updatefound', () => {
    const worker = registration.installing;
    worker?.addEventListener('statechange', () => {
      // Without a controller this is the first visit, not an update.
      if (worker.state === 'installed' && navigator.serviceWorker.controller) offer(worker);
    });
  });
}

function apply(worker: ServiceWorker): void {
  navigator.serviceWorker.addEventListener('controllerchange', () => location.reload(), { once: true });
  worker.postMessage('take over');
}
