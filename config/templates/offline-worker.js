// Keeps the field card and the field log on the phone, and nothing else. Written by
// course/views/offline.py; every other page goes to the network as if this were not here.

const SHELL = {{ shell|safe }};
const SHELL_CACHE = "shell-{{ digest }}";
const STATIC = "{{ static }}";
const CARRIED = "carried";
const CARRIED_PAGES = /^\/(card\/(\d+\/)?|field-log\/)$/;
const PATIENCE_MS = 4000; // a phone with one bar may wait for minutes; the kept page is there

self.addEventListener("install", (event) => {
  event.waitUntil(caches.open(SHELL_CACHE).then((cache) => cache.addAll(SHELL)).then(() => self.skipWaiting()));
});

self.addEventListener("activate", (event) => {
  event.waitUntil(tidy().then(() => self.clients.claim()));
});

// After an update the kept pages still name the old look; it goes once they have been fetched anew.
async function tidy() {
  const carried = await caches.open(CARRIED);
  const pages = await carried.keys();
  const fetched = await Promise.all(pages.map((page) => fetch(page.url).then(
    async (answer) => answer.ok && !answer.redirected && (await carried.put(page.url, answer), true),
    () => false,
  )));
  if (!fetched.every(Boolean)) return;
  const names = await caches.keys();
  await Promise.all(names.filter((n) => n.startsWith("shell-") && n !== SHELL_CACHE).map((n) => caches.delete(n)));
}

self.addEventListener("fetch", (event) => {
  const address = new URL(event.request.url);
  if (address.origin !== location.origin) return;
  // Whoever signs out leaves no card behind on a shared phone.
  if (event.request.method === "POST" && address.pathname === "/sign-out/") {
    event.waitUntil(caches.delete(CARRIED));
    return;
  }
  if (event.request.method !== "GET") return;
  if (CARRIED_PAGES.test(address.pathname)) event.respondWith(networkFirst(event.request, true));
  else if (address.pathname.startsWith(STATIC)) event.respondWith(networkFirst(event.request, false));
});

async function networkFirst(request, keep) {
  const kept = await caches.match(request, { ignoreSearch: true, ignoreVary: true });
  const fresh = fetch(request).then(async (answer) => {
    if (keep && answer.ok && !answer.redirected) await (await caches.open(CARRIED)).put(request, answer.clone());
    return answer;
  });
  if (!kept) return fresh;
  const tired = new Promise((resolve) => setTimeout(() => resolve(kept), PATIENCE_MS));
  return Promise.race([fresh.catch(() => kept), tired]);
}
