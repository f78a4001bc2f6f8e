// The carried pages: kept on this phone, and honest about how old they are.

const AGE = document.querySelector("[data-made]");
const STATE = document.querySelector("[data-kept]");

function inWords(minutes) {
  if (minutes < 2) return "just now";
  if (minutes < 90) return `${Math.round(minutes)} minutes ago`;
  if (minutes < 48 * 60) return `${Math.round(minutes / 60)} hours ago`;
  return `${Math.round(minutes / 1440)} days ago`;
}

function sayAge() {
  if (!AGE) return;
  const minutes = (Date.now() - new Date(AGE.dataset.made)) / 60000;
  AGE.querySelector("[data-age]").textContent = `, ${inWords(minutes)}`;
}

function sayState(kept) {
  if (!STATE) return;
  if (!navigator.onLine) STATE.textContent = "No signal. This is the page kept on this phone.";
  else STATE.textContent = kept ? "Kept on this phone; it opens without signal." : "";
}

async function keep() {
  if (!("serviceWorker" in navigator)) return;
  await navigator.serviceWorker.register("/offline-worker.js");
  await navigator.serviceWorker.ready;
  const cache = await caches.open("carried");
  const wanted = [location.pathname, ...document.documentElement.querySelectorAll("a[data-carry]")].map((a) => (a.pathname ? a.pathname : a));
  await Promise.all(wanted.map(async (path) => {
    const answer = await fetch(path);
    if (answer.ok && !answer.redirected) await cache.put(path, answer);
  }));
  document.documentElement.dataset.carried = "yes";
  sayState(true);
}

sayAge();
setInterval(sayAge, 60000);
sayState(false);
addEventListener("online", () => sayState(true));
addEventListener("offline", () => sayState(true));
if (navigator.onLine) keep().catch(() => {});
