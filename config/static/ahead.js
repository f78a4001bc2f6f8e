/* From print to print without waiting: the next page and its picture are fetched while this one
is looked at, and laid on the table when asked for. A page shown this way is the house's own. */

import { begin as beginPrint } from "./print.js";
import { begin as beginMarks } from "./marks.js";
import { begin as beginWords } from "./words.js";
import { begin as beginVoice } from "./voice.js";
import { hold, letGo } from "./typed.js";

const kept = new Map();

/** The one after this, the one before, and then the one after next: who is quick waits for none. */
function fetchAhead() {
  for (const link of document.querySelectorAll("a[rel=next], a[rel=prev]")) get(link);
  kept.get(document.querySelector("a[rel=next]")?.href)?.then((next) => get(next?.querySelector("a[rel=next]")));
}

function get(link) {
  if (link && !kept.has(link.href)) kept.set(link.href, page(link.href));
}

async function page(address) {
  try {
    const answer = await fetch(address, { headers: { "X-Fetched": "ahead" } });
    if (!answer.ok || answer.redirected) return null;
    const next = new DOMParser().parseFromString(await answer.text(), "text/html");
    const picture = next.querySelector("img.picture");
    if (picture) await Object.assign(new Image(), { src: picture.getAttribute("src") }).decode().catch(() => {});
    return next;
  } catch { return null; }
}

async function show(address) {
  const next = await kept.get(address);
  if (!next) { location.assign(address); return; }
  const ahead = next.querySelector("a[rel=next]")?.href;
  for (const old of kept.keys()) if (old !== ahead) kept.delete(old); // what was decided since is fetched anew
  document.querySelector("#crit")?.dispatchEvent(new Event("print:leave"));
  const main = document.adoptNode(next.querySelector("main"));
  document.querySelector("main").replaceWith(main);
  document.querySelector(".said")?.remove();
  document.title = next.title;
  history.pushState({}, "", address);
  scrollTo(0, 0);
  main.focus({ preventScroll: true });
  for (const begin of [beginPrint, beginMarks, beginWords, beginVoice]) begin(main);
  fetch(address, { method: "HEAD" }).catch(() => {}); // now a person has seen it
  fetchAhead();
}

/** Sends the decision while the next print is already there; what is refused is sent the plain way. */
function decide(event) {
  const form = event.target;
  const next = document.querySelector("a[rel=next]");
  const decision = event.submitter?.value;
  if (form.id !== "crit" || !next || !["kept", "reshoot asked", "talked through"].includes(decision)) return;
  if (decision === "reshoot asked" && !form.elements.one_thing.value.trim()) return;
  event.preventDefault();
  const said = new FormData(form, event.submitter);
  const here = location.href;
  hold(form, { revision: form.elements.revision.value });
  fetch(form.action, { method: "POST", body: said, headers: { "X-Requested-With": "fetch" }, keepalive: true })
    .then((answer) => {
      if (answer.status === 204) letGo(form);
      else if (answer.redirected && new URL(answer.url).pathname === "/sign-in/") location.assign(here); // signs in, and finds the words again
      else plainly(form.action, said);
    })
    .catch(() => location.assign(here)); // the line is lost: back to the print, which holds the words
  show(next.href);
}

function plainly(action, said) {
  const form = Object.assign(document.createElement("form"), { method: "post", action, hidden: true });
  for (const [name, value] of said) form.append(Object.assign(document.createElement("input"), { type: "hidden", name, value }));
  document.body.append(form);
  form.submit();
}

document.addEventListener("click", (event) => {
  const link = event.target.closest("a[rel=next], a[rel=prev]");
  if (!link || event.ctrlKey || event.metaKey || event.shiftKey || event.button) return;
  event.preventDefault();
  show(link.href);
});
document.addEventListener("submit", decide);
addEventListener("popstate", () => location.reload());
fetchAhead();
