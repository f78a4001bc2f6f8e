/* What was typed stays in this tab until the house has it, whatever becomes of session or line. */

const NEVER = ["csrfmiddlewaretoken", "revision", "frame", "reshoot_of", "decision", "release"];
const place = (form) => `typed:${form.dataset.typed}`;
const told = (form) => [...form.elements].filter((e) => e.name && !NEVER.includes(e.name) && e.type !== "file" && e.type !== "submit");

/** Holds every field as it is now; `more` goes along with it. */
export function hold(form, more = {}) {
  const values = told(form).map((e) => [e.name, e.type === "checkbox" || e.type === "radio" ? [e.value, e.checked] : e.value]);
  try { sessionStorage.setItem(place(form), JSON.stringify({ values, ...more })); } catch { /* a full store loses nothing that was sent */ }
}

export function held(form) {
  try { return JSON.parse(sessionStorage.getItem(place(form))); } catch { return null; }
}

/** Signing in again on another page changes the token; what this page sends needs the new one. */
export function token() {
  const cookies = document.cookie.split("; ").map((c) => c.split("="));
  const fresh = cookies.find(([name]) => ["__Host-csrftoken", "csrftoken"].includes(name))?.[1];
  return fresh ?? document.querySelector("[name=csrfmiddlewaretoken]").value;
}

export function letGo(form) { sessionStorage.removeItem(place(form)); }

/** Puts back what was held; says whether that changed anything. */
export function putBack(form) {
  let changed = false;
  for (const [name, value] of held(form)?.values ?? []) {
    for (const field of told(form).filter((e) => e.name === name)) {
      if (Array.isArray(value)) {
        if (field.value !== value[0] || field.checked === value[1]) continue;
        [field.checked, changed] = [value[1], true];
      } else if (field.value !== value && !Array.isArray(value)) {
        [field.value, changed] = [value, true];
      }
    }
  }
  return changed;
}

/* a plain form: held while it is filled in, until the page it leads to says that all is well */
for (const form of document.querySelectorAll("form[data-typed]:not(#crit)")) {
  if (!form.querySelector(".field-trouble") && held(form) && putBack(form)) {
    const says = Object.assign(document.createElement("p"), { className: "pencil", textContent: "What you had typed before is back." });
    says.setAttribute("role", "status");
    form.prepend(says);
  }
  form.addEventListener("input", () => hold(form));
  form.addEventListener("change", () => hold(form));
}
for (const done of document.querySelectorAll("[data-typed-done]")) sessionStorage.removeItem(`typed:${done.dataset.typedDone}`);
