// Three taps in the field: kept on this phone at once, sent when there is signal. The same form
// works without this script, with signal.

const form = document.querySelector("form[data-field-log]");
const waiting = document.querySelector("[data-waiting]");
const KEY = `field-notes-${form.dataset.user}`;
const LAST = `field-last-${form.dataset.user}`;
let sending = false;

const read = (key) => JSON.parse(localStorage.getItem(key) || "null");
const notes = () => read(KEY) || [];
const write = (all) => localStorage.setItem(KEY, JSON.stringify(all));

// crypto.randomUUID is not there on plain http in a local network.
function newId() {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  bytes[6] = (bytes[6] & 0x0f) | 0x40;
  bytes[8] = (bytes[8] & 0x3f) | 0x80;
  const hex = [...bytes].map((b) => b.toString(16).padStart(2, "0")).join("");
  return hex.replace(/^(.{8})(.{4})(.{4})(.{4})(.{12})$/, "$1-$2-$3-$4-$5");
}

function tapped() {
  const data = new FormData(form);
  return {
    set_up: data.get("set_up") || "",
    support: data.get("support") || "",
    light_clock: data.get("light_clock") || "",
    diffuser: data.has("diffuser"),
    card: data.has("card"),
    wind: data.get("wind") || "",
  };
}

function sayWaiting(words) {
  const count = notes().length;
  const kept = count ? `${count} ${count === 1 ? "note" : "notes"} kept on this phone until there is signal.` : "";
  waiting.textContent = words ? `${words} ${kept}`.trim() : kept;
}

async function send() {
  const all = notes();
  if (!all.length || sending || !navigator.onLine) return sayWaiting();
  sending = true;
  try {
    const token = document.cookie.match(/csrftoken=([^;]+)/)?.[1] || form.elements.csrfmiddlewaretoken.value;
    const answer = await fetch(form.dataset.send, {
      method: "POST",
      redirect: "manual",
      headers: { "Content-Type": "application/json", "X-CSRFToken": token },
      body: JSON.stringify({ sent_at: new Date().toISOString(), notes: all }),
    });
    if (answer.ok) {
      const { kept, refused } = await answer.json();
      const done = new Set([...kept, ...refused]);
      write(notes().filter((note) => !done.has(note.phone_id)));
      sayWaiting(kept.length ? `${kept.length} sent to your log.` : "");
    } else sayWaiting("Sign in again to send them.");
  } catch {
    sayWaiting();
  } finally {
    sending = false;
  }
}

// What stays as before is already chosen: the set-up and what holds the camera.
function asBefore() {
  const last = read(LAST);
  if (!last) return;
  for (const name of ["set_up", "support"]) {
    // not form.elements[name]: where there is one choice alone, that is no list
    const input = [...form.querySelectorAll(`[name=${name}]`)].find((one) => one.value === last[name]);
    if (input) input.checked = true;
  }
}

form.addEventListener("submit", (event) => {
  event.preventDefault();
  const note = { phone_id: newId(), noted_at: new Date().toISOString(), ...tapped() };
  write([...notes(), note]);
  localStorage.setItem(LAST, JSON.stringify({ set_up: note.set_up, support: note.support }));
  form.reset();
  asBefore();
  sayWaiting("Noted.");
  send();
});

asBefore();
send();
addEventListener("online", send);
