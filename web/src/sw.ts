// Keeps the pages and what they last read from the server, so that everything but the server's own
// work goes on with the network gone. Pages come from the copy made when this version was installed;
// data comes from the network, and from the copy only when the network fails.

interface LifeEvent extends Event {
  waitUntil(done: Promise<unknown>): void;
}
interface FetchEvent extends LifeEvent {
  request: Request;
  respondWith(answer: Promise<Response>): void;
}
interface WorkerScope {
  addEventListener(type: 'install' | 'activate', handler: (event: LifeEvent) => void): void;
  addEventListener(type: 'fetch', handler: (event: FetchEvent) => void): void;
  clients: { claim(): Promise<void> };
  skipWaiting(): Promise<void>;
}
const scope = self as unknown as WorkerScope;

const version = '%OFFLINE_VERSION%';
const paths = JSON.parse('%OFFLINE_PATHS%') as string[];
// Kept once they were needed: not everybody who learns here has recordings to measure.
const later = JSON.parse('%OFFLINE_LATER%') as string[];
const pagesCopy = 'pages-' + version;
const dataCopy = 'data';
// What belongs to a person, a class or a session is never copied to the device, nor what the server says is not to
// be kept.
const privateData = /^\/api\/v1\/(session|join|classes|stations|encounters|drill|ability-tests|me|people)(\/|$)/;

scope.addEventListener('install', (event) => {
  event.waitUntil(caches.open(pagesCopy)
    .then(async (copy) => {
      const had = await Promise.all(later.map((path) => caches.match(path)));
      const all = [...paths, ...later.filter((_, i) => had[i])]; // a new version of what was kept
      await copy.addAll(all.map((path) => new Request(path, { cache: 'reload' })));
    })
    .then(() => scope.skipWaiting()));
});

scope.addEventListener('activate', (event) => {
  event.waitUntil(caches.keys()
    .then((names) =>
      Promise.all(
        names.filter((name) => name.startsWith('pages-') && name !== pagesCopy).map((name) => caches.delete(name)),
      )
    )
    .then(() => scope.clients.claim()));
});

async function page(request: Request): Promise<Response> {
  const kept = await caches.match(request.mode === 'navigate' ? '/' : request, { cacheName: pagesCopy });
  if (kept) return kept;
  const fresh = await fetch(request);
  if (fresh.ok && later.includes(new URL(request.url).pathname)) {
    await (await caches.open(pagesCopy)).put(request, fresh.clone());
  }
  return fresh;
}

async function data(request: Request): Promise<Response> {
  const copy = await caches.open(dataCopy);
  try {
    const fresh = await fetch(request);
    if (fresh.ok && fresh.headers.get('Cache-Control') !== 'no-store') await copy.put(request, fresh.clone());
    return fresh;
  } catch (error) {
    const kept = await copy.match(request);
    if (kept) return kept;
    throw error;
  }
}

scope.addEventListener('fetch', (event) => {
  const { request } = event;
  const url = new URL(request.url);
  if (request.method !== 'GET' || url.origin !== self.location.origin) return;
  if (!url.pathname.startsWith('/api/')) event.respondWith(page(request));
  else if (!privateData.test(url.pathname)) event.respondWith(data(request));
});
