// Keeps the field card and the field log on the phone, and nothing else. Written by
// course/views/offline.py; every other page goes to the network as if this were not here.

const SHELL = {{ shell|safe }};
const SHELL_CACHE = "shell-{{ version }}-" + SHELL.join("").length;
const CARRIED = "carried";
const CARRIED_PAGES = /^\/(card\/(\d+\/)?|field-log\/)$/;
const PATIENCE_MS = 4000; // a phone with one bar may wait for minutes; the kept page is there

self.addEventListener("install", (event) => {
  event.waitUntil(caches.open(SHELL_CACHE).then((cache) => cache.addAll(SHELL)).then(() => self.skipWaiting()));
});

self.addEventListener("activate", (event) => {
  event.waitUntil(
    caches.keys()
      .then((names) => Promise.all(names.filter((n) => n.startsWith("shell-") && n !== SHELL_CACHE).map((n) => caches.delete(n))))
      .then(() => self.clients.claim()),
  );
});

self.addEventListener("fetch", (event) => {
  const address = new URL(event.request.url);
  if (address.origin !== location.origin) return;
  // Whoever signs out leaves no card behind on a shared phone.
  if (event.request.method === "POST" && address.pathname === "/sign-out/") {
    event.waitUntil(caches.delete(CARRIED));
    return;
  }
  if (event.request.method !== "GET") return;
  if (CARRIED_PAGES.test(address.pathname)) event.respondWith(networkFirst(event.request, CARRIED, true));
  else if (SHELL.includes(address.pathname)) event.respondWith(networkFirst(event.request, SHELL_CACHE, false));
});

async function networkFirst(request, name, keep) {
  const cache = await caches.open(name);
  const kept = await cache.match(request, { ignoreSearch: true, ignoreVary: true });
  const fresh = fetch(request).then(async (answer) => {
    if (keep && answer.ok && !answer.redirected) await cache.put(request, answer.clone());
    return answer;
  });
  if (!kept) return fresh;
  const tired = new Promise((resolve) => setTimeout(() => resolve(kept), PATIENCE_MS));
  return Promise.race([fresh.catch(() => kept), tired]);
}
