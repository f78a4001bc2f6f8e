/* One key, one act: whatever carries data-key is clicked by its key, outside of fields. */

const writes = (element) => element?.matches?.("input:not([type=checkbox]):not([type=radio]), textarea, select, [contenteditable]");

const ACTS = {
  w: () => document.querySelector("#crit textarea")?.focus(),
  z: () => document.querySelector("[data-print]")?.dispatchEvent(new Event("print:closer")),
  m: () => document.querySelector("[data-pencils] button")?.focus(),
  "?": () => { const keys = document.querySelector(".keys"); if (keys) { keys.open = true; keys.scrollIntoView({ block: "nearest" }); } },
};

addEventListener("keydown", (event) => {
  if (event.key === "Escape" && writes(document.activeElement)) { document.activeElement.blur(); return; }
  if (event.ctrlKey || event.metaKey || event.altKey || event.repeat || writes(event.target)) return; // a key held down is pressed once
  const key = event.key === " " ? "Space" : event.key;
  const target = [...document.querySelectorAll("[data-key]")].find((e) => e.dataset.key.split(" ").includes(key) && !e.hidden && e.offsetParent !== null);
  if (key === "Space" && document.activeElement?.matches("button, a, summary, input")) return;
  if (target) { event.preventDefault(); act(target, key); }
  else if (ACTS[key]) { event.preventDefault(); ACTS[key](); }
});

/** A reshoot needs its one thing: the key leads there first. */
function act(target, key) {
  const one = document.querySelector("#crit [name=one_thing]");
  if (key === "r" && one && !one.value.trim()) { one.focus(); return; }
  target.click();
}
