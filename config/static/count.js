// A plan counted aloud: what was ticked stays on this device, also when the phone went to sleep.
const form = document.querySelector("[data-count]");
if (form) {
  const key = `count-${form.dataset.count}`;
  const boxes = [...form.querySelectorAll("[type=checkbox]")];
  const kept = () => new Set(JSON.parse(localStorage.getItem(key) || "[]"));
  const ticked = kept();
  boxes.forEach((box) => { box.checked = ticked.has(box.value); });
  form.addEventListener("change", () => {
    localStorage.setItem(key, JSON.stringify(boxes.filter((b) => b.checked).map((b) => b.value)));
  });
  form.addEventListener("reset", () => localStorage.removeItem(key));
}
