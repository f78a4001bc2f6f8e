/* Projection: one key shows the line, one the marks, one the name. The next print is laid on without
leaving the page, so that no page flashes in the dark and a filled screen stays filled. */

import { fetchedAhead, whenTurned } from "./turn.js";

const laid = new Map(); // pages fetched ahead, by address

function begin() {
  for (const button of document.querySelectorAll("[data-show]")) {
    const parts = document.querySelectorAll(`[data-with-${button.dataset.show}]`);
    const kept = () => sessionStorage.getItem(`projected:${button.dataset.show}`) === "yes";
    const show = () => {
      parts.forEach((part) => { part.hidden = !kept(); });
      button.setAttribute("aria-pressed", String(kept()));
    };
    button.hidden = parts.length === 0;
    button.addEventListener("click", () => {
      sessionStorage.setItem(`projected:${button.dataset.show}`, kept() ? "no" : "yes");
      show();
    });
    button.classList.add("begun");
    show();
  }
  const fill = document.querySelector("[data-fill]");
  if (fill) fill.hidden = !document.fullscreenEnabled;
  fill?.addEventListener("click", () => (document.fullscreenElement ? document.exitFullscreen() : document.documentElement.requestFullscreen()));
  fill?.classList.add("begun");
  filled();
  for (const link of document.querySelectorAll("a[rel=next], a[rel=prev]")) if (!laid.has(link.href)) laid.set(link.href, fetchedAhead(link.href));
}

function filled() { document.querySelector("[data-fill]")?.setAttribute("aria-pressed", String(Boolean(document.fullscreenElement))); }

async function turn(address, remember = true) {
  const main = (await (laid.get(address) ?? fetchedAhead(address)))?.querySelector("main");
  laid.delete(address);
  if (!main) { location.assign(address); return; }
  document.querySelector("main").replaceWith(document.adoptNode(main));
  if (remember) history.pushState({}, "", address);
  begin();
}

whenTurned(turn);
document.addEventListener("fullscreenchange", filled);
addEventListener("popstate", () => turn(location.href, false));
begin();
