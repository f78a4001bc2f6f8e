/* A page that waits for something being read asks again, but never while somebody writes on it. */
const AGAIN_MS = 3000;
const changed = (field) => (field.matches("[type=checkbox], [type=radio]")
  ? field.checked !== field.defaultChecked : field.value !== field.defaultValue);

function writing() {
  return document.activeElement?.matches("textarea, input, select")
    || [...document.querySelectorAll("textarea, input:not([type=hidden])")].some(changed);
}

export function askAgain(root = document) {
  if (!root.querySelector("[data-again-page]")) return;
  setTimeout(() => {
    if (document.hidden || writing()) askAgain(root);
    else location.reload();
  }, AGAIN_MS);
}
askAgain();
