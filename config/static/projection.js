/* Projection: one key shows the line, one the marks, one the name; the next print waits loaded. */

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
  show();
}
const following = document.querySelector("link[rel=prefetch]");
if (following) new Image().src = following.href;
