/* From print to print without waiting: the next page and its picture are fetched while this one
is looked at, and laid on the table when asked for. A page shown this way is the house's own. */

import { begin as beginPrint } from "./print.js";
import { begin as beginMarks } from "./marks.js";
import { begin as beginWords, underway } from "./words.js";
import { begin as beginVoice } from "./voice.js";
import { fetchedAhead, whenTurned } from "./turn.js";
import { hold, letGo, token } from "./typed.js";

const TOO_QUICK_MS = 500; // nobody has looked at a print that soon
const WAITS_S = [1, 2, 4, 8, 15];
const kept = new Map();
const waiting = new Set(); // decisions that found no line
let sent = Promise.resolve(); // what is still on its way: a page made before it came would be older
let laidAt = -Infinity;
let releases = null; // whether the last decision was released with it; pages fetched before it cannot know

/** The one after this, the one before, and then the one after next: who is quick waits for none. */
function fetchAhead() {
  for (const link of document.querySelectorAll("a[rel=next], a[rel=prev]")) get(link);
  kept.get(document.querySelector("a[rel=next]")?.href)?.then((next) => get(next?.querySelector("a[rel=next]")));
}

function get(link) {
  if (link && !kept.has(link.href)) kept.set(link.href, page(link.href));
}

async function page(address) {
  await sent;
  return fetchedAhead(address);
}

async function show(address) {
  const next = await kept.get(address);
  if (!next && !navigator.onLine) { kept.delete(address); tell("The connection is lost, and that print is not here yet."); return; }
  if (!next) { location.assign(address); return; }
  const ahead = next.querySelector("a[rel=next]")?.href;
  for (const old of kept.keys()) if (old !== ahead) kept.delete(old); // what was decided since is fetched anew
  const words = [];
  document.querySelector("#crit")?.dispatchEvent(new CustomEvent("print:leave", { detail: words }));
  sent = Promise.allSettled([sent, ...words]);
  const main = document.adoptNode(next.querySelector("main"));
  const tick = main.querySelector("[name=release]:not([data-released])");
  if (tick && releases !== null) tick.checked = releases;
  document.querySelector("main").replaceWith(main);
  document.querySelector(".said:not([data-line])")?.remove();
  if (!waiting.size) document.querySelector("[data-line]")?.remove();
  document.title = next.title;
  history.pushState({}, "", address);
  laidAt = performance.now();
  scrollTo(0, 0);
  main.focus({ preventScroll: true });
  for (const begin of [beginPrint, beginMarks, beginWords, beginVoice]) begin(main);
  fetch(address, { method: "HEAD" }).catch(() => {}); // now a person has seen it
  fetchAhead();
}

/** Sends the decision while the next print is already there; at the last one, the table follows. */
async function decide(event) {
  const form = event.target;
  const decision = event.submitter?.value;
  if (form.id !== "crit" || !["kept", "reshoot asked", "talked through"].includes(decision)) return;
  if (performance.now() - laidAt < TOO_QUICK_MS) { event.preventDefault(); return; } // the second click of two
  if (decision === "reshoot asked" && !form.elements.one_thing.value.trim()) return;
  event.preventDefault();
  releases = form.elements.release.checked;
  const following = document.querySelector("a[rel=next]")?.href;
  const taken = sendDecision(form, event.submitter);
  sent = Promise.allSettled([sent, taken]);
  if (following && await kept.get(following)) show(following);
  else if (await taken) location.assign(following ?? document.querySelector(".walk a").href);
}

/** Says whether the house took it; while the line is lost it is sent again, what is refused goes the plain way. */
async function sendDecision(form, submitter) {
  const said = new FormData(form, submitter);
  const here = location.href;
  hold(form, { revision: form.elements.revision.value });
  await underway(form);
  for (let lost = 0; ; lost++) {
    said.set("revision", form.elements.revision.value);
    said.set("csrfmiddlewaretoken", token());
    try {
      const answer = await fetch(form.action, { method: "POST", body: said, headers: { "X-Requested-With": "fetch" }, keepalive: true });
      waiting.delete(form);
      if (lost && !waiting.size) tell("The connection is back, and the house has every decision.");
      if (answer.status === 204) { letGo(form); return true; }
      if (answer.redirected && new URL(answer.url).pathname === "/sign-in/") location.assign(here); // signs in, and finds the words again
      else plainly(form.action, said);
      return false;
    } catch {
      waiting.add(form);
      tell("The connection is lost. What you decided is not kept yet: it is sent again by itself. Leave this page open.");
      await lineIsBack(WAITS_S[Math.min(lost, WAITS_S.length - 1)]);
    }
  }
}

const lineIsBack = (s) => new Promise((done) => {
  const timer = setTimeout(done, s * 1000);
  addEventListener("online", () => { clearTimeout(timer); done(); }, { once: true });
});

/** A word above the print that stays from print to print. */
function tell(words) {
  let list = document.querySelector("[data-line]");
  if (!list) {
    list = Object.assign(document.createElement("ul"), { className: "said" });
    list.dataset.line = "";
    list.setAttribute("role", "status");
    list.append(document.createElement("li"));
    document.querySelector("main").before(list);
  }
  list.firstElementChild.textContent = words;
}

function plainly(action, said) {
  const form = Object.assign(document.createElement("form"), { method: "post", action, hidden: true });
  for (const [name, value] of said) form.append(Object.assign(document.createElement("input"), { type: "hidden", name, value }));
  document.body.append(form);
  form.submit();
}

whenTurned(show);
document.addEventListener("submit", decide);
addEventListener("beforeunload", (event) => { if (waiting.size) event.preventDefault(); });
addEventListener("popstate", () => location.reload());
fetchAhead();
