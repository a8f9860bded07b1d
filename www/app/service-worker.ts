// Keeps the whole page in a cache named after its version, so that it opens offline after one visit.
// A newer version is fetched beside the old one and waits until the page says so: nothing changes under a take.

export {}; // a module, so that `self` may be declared anew
declare const self: ServiceWorkerGlobalScope;
declare const SITE_VERSION: string;
declare const SITE_FILES: string[];

const PREFIX = 'conewright-page-';
const CACHE = PREFIX + SITE_VERSION;

self.addEventListener('install', (event) => event.waitUntil(keepAll()));
self.addEventListener('activate', (event) => event.waitUntil(dropOld()));
self.addEventListener('fetch', (event) => {
  const { request } = event;
  if (request.method === 'GET' && new URL(request.url).origin === self.location.origin) event.respondWith(answer(request));
});
self.addEventListener('message', (event) => {
  if (event.data === 'take over') void self.skipWaiting();
});

async function keepAll(): Promise<void> {
  const cache = await caches.open(CACHE);
  // Past the browser's own cache, or files of two versions could end up together.
  await cache.addAll(SITE_FILES.map((file) => new Request(file, { cache: 'reload' })));
}

async function dropOld(): Promise<void> {
  const names = await caches.keys();
  await Promise.all(names.filter((name) => name.startsWith(PREFIX) && name !== CACHE).map((name) => caches.delete(name)));
  await self.clients.claim();
}

async function answer(request: Request): Promise<Response> {
  const cache = await caches.open(CACHE);
  const kept = await cache.match(request, { ignoreSearch: true });
  if (kept) return kept;
  return fetch(request);
}
