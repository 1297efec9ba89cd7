// Keeps the page's own files for use offline: a cache for each version, nothing of any other host.
// The build puts the list of files and their common digest in place of the two lines below.
const FILES = [];
const VERSION = "unbuilt";

const FAMILY = `tileglow ${self.registration.scope} `;
const CACHE = FAMILY + VERSION;
const kept = new Set(FILES.map((file) => new URL(file, self.registration.scope).href));
const FRONT = new URL("./", self.registration.scope).href;

self.addEventListener("install", (event) => {
  const store = async () => {
    const cache = await caches.open(CACHE);
    await cache.addAll([...kept].map((url) => new Request(url, { cache: "no-cache" })));
    await self.skipWaiting();
  };
  event.waitUntil(store());
});

self.addEventListener("activate", (event) => {
  const tidy = async () => {
    for (const name of await caches.keys()) if (name.startsWith(FAMILY) && name !== CACHE) await caches.delete(name);
    await self.clients.claim();
  };
  event.waitUntil(tidy());
});

self.addEventListener("fetch", (event) => {
  const { request } = event;
  if (request.method !== "GET") return;
  const url = new URL(request.url);
  url.hash = "";
  const front = url.href.split("?")[0];
  if (request.mode === "navigate" && (front === FRONT || front === FRONT + "index.html")) {
    // The front page comes from the host while there is one, so that a new version is seen at once.
    event.respondWith(fetch(request).catch(async () => (await (await caches.open(CACHE)).match(FRONT)) ?? Response.error()));
  } else if (kept.has(url.href)) {
    // Every other name carries its version, so that the kept copy is the right one.
    event.respondWith((async () => (await (await caches.open(CACHE)).match(url.href)) ?? fetch(request))());
  }
});
