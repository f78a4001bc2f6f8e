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

/** Whether the house answers. A browser without a network says so, and may still reach a house on its own machine. */
export async function answers() {
  if (navigator.onLine) return true;
  try { await fetch("/health/", { method: "HEAD", cache: "no-store" }); return true; } catch { return false; }
}

document.addEventListener("submit", (event) => {
  const field = event.target.elements.csrfmiddlewaretoken;
  if (field) field.value = token();
}, true);

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

/* A plain form: held while it is filled in, until the house has it. What was sent is taken for kept
   unless signing in came between, or the page says what is amiss in it. */
const SENT = "typed-sent", SIGNED_OUT = "typed-signed-out";
const note = (name, value) => { try { sessionStorage.setItem(name, value); } catch { /* as above */ } };
const says = (form, words) => {
  const line = form.querySelector("[data-typed-says]") ?? Object.assign(document.createElement("p"), { className: "pencil" });
  line.dataset.typedSays = "";
  line.setAttribute("role", "status");
  line.textContent = words;
  form.prepend(line);
};

async function submitOnceThere(form, submitter) {
  if (await answers()) {
    form.dataset.answers = "yes";
    form.requestSubmit(submitter);
    delete form.dataset.answers;
    return;
  }
  sessionStorage.removeItem(SENT);
  says(form, "The connection is lost. What you typed stays here; press again when it is back.");
  form.scrollIntoView({ block: "start" });
}

for (const form of document.querySelectorAll("form[data-typed]:not(#crit)")) {
  const amiss = form.querySelector(".field-trouble");
  if (sessionStorage.getItem(SENT) === place(form) && !sessionStorage.getItem(SIGNED_OUT) && !amiss) letGo(form);
  if (!amiss && held(form) && putBack(form)) says(form, "What you had typed before is back.");
  form.addEventListener("input", () => hold(form));
  form.addEventListener("change", () => hold(form));
  form.addEventListener("click", (event) => { if (event.target.closest("[data-typed-leave]")) letGo(form); });
  form.addEventListener("submit", (event) => {
    if (event.defaultPrevented) return; // files are still on their way
    hold(form);
    note(SENT, place(form));
    if (navigator.onLine || form.dataset.answers) return;
    event.preventDefault();
    submitOnceThere(form, event.submitter);
  });
}
if (document.querySelector("[data-signs-in]")) note(SIGNED_OUT, "yes");
else for (const name of [SENT, SIGNED_OUT]) sessionStorage.removeItem(name);
for (const done of document.querySelectorAll("[data-typed-done]")) sessionStorage.removeItem(`typed:${done.dataset.typedDone}`);
