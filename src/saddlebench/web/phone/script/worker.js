// The service worker: the phone's one page and its files start from the phone itself; every other page is the
// program's. With no server in reach, a page that was asked for is answered by the phone's own.
/* global SHELL */
const CACHE = `saddlebench-shell-${SHELL.stamp}`;
const NO_ANSWER_MS = 4000;
// What is kept is of one language; a request that says another, or none, gets it all the same.
const WHATEVER_ASKED = { ignoreVary: true };

self.addEventListener("install", (event) => {
  event.waitUntil(
    caches.open(CACHE).then((cache) =>
      cache.addAll([SHELL.page, ...SHELL.files].map((url) => new Request(url, { cache: "reload", headers: { "Accept-Language": SHELL.language } }))),
    ),
  );
});

self.addEventListener("activate", (event) => {
  event.waitUntil(
    caches
      .keys()
      .then((names) => names.filter((name) => name.startsWith("saddlebench-shell-") && name !== CACHE))
      .then((old) => Promise.all(old.map((name) => caches.delete(name))))
      .then(() => self.clients.claim()),
  );
});

self.addEventListener("message", (event) => {
  if (event.data === "take over") self.skipWaiting();
});

self.addEventListener("fetch", (event) => {
  const request = event.request;
  const url = new URL(request.url);
  if (request.method !== "GET" || url.origin !== location.origin) return;
  if (request.mode === "navigate" && url.pathname === SHELL.page) event.respondWith(kept(SHELL.page, request));
  else if (SHELL.files.includes(url.pathname)) event.respondWith(kept(url.pathname, request));
  else if (request.mode === "navigate") event.respondWith(asked(request));
});

async function kept(address, request) {
  const cache = await caches.open(CACHE);
  return (await cache.match(address, WHATEVER_ASKED)) || fetch(request);
}

async function asked(request) {
  const waiting = new AbortController();
  const timer = setTimeout(() => waiting.abort(), NO_ANSWER_MS);
  try {
    // A slow answer is still an answer: only while the radio finds nothing at all is the phone's page shown.
    return await Promise.race([fetch(request), aborted(waiting.signal)]);
  } catch {
    const cache = await caches.open(CACHE);
    return (await cache.match(SHELL.page, WHATEVER_ASKED)) || Response.error();
  } finally {
    clearTimeout(timer);
  }
}

function aborted(signal) {
  return new Promise((_, reject) => {
    signal.addEventListener("abort", () => {
      if (!navigator.onLine) reject(new Error("no signal"));
    });
  });
}
