/* Files on their way in: by picker and by drag, each with its own progress; the contact sheet follows. */

import { send, forget, Refused, SignedOut } from "./tus.js";

const AT_ONCE = 2;
const AGAIN_MS = 2000;
const make = (name, properties = {}, ...children) => {
  const element = Object.assign(document.createElement(name), properties);
  element.append(...children);
  return element;
};
const megabytes = (n) => `${(n / 1e6).toFixed(n < 1e7 ? 1 : 0)} MB`;

class Sending {
  constructor(form) {
    this.form = form;
    this.list = form.querySelector(".on-the-way");
    this.input = form.querySelector("input[type=file]");
    this.handsIn = form.classList.contains("hand-in-form");
    this.waiting = [];
    this.running = 0;
    this.input.addEventListener("change", () => this.take(this.input.files));
    form.addEventListener("submit", (event) => this.submit(event));
    for (const kind of ["dragenter", "dragover"]) addEventListener(kind, (event) => this.over(event, true));
    for (const kind of ["dragleave", "drop"]) addEventListener(kind, (event) => this.over(event, false));
    addEventListener("drop", (event) => this.take(event.dataTransfer.files));
    addEventListener("beforeunload", (event) => { if (this.busy) event.preventDefault(); });
  }

  get busy() { return this.running + this.waiting.length > 0; }

  over(event, on) {
    if (!event.dataTransfer?.types.includes("Files")) return;
    event.preventDefault();
    this.form.classList.toggle("is-over", on);
  }

  submit(event) {
    if (this.input.files.length) this.take(this.input.files);
    if (this.handsIn && !this.busy) return;
    event.preventDefault();
    this.handInWhenDone = this.handsIn && this.busy;
  }

  take(files) {
    for (const file of files) this.add(file);
    this.input.value = "";
    this.next();
  }

  add(file) {
    const progress = make("progress", { max: file.size || 1, value: 0 });
    const says = make("span", { className: "says", textContent: `waiting, ${megabytes(file.size)}` });
    const cancel = make("button", { type: "button", className: "quiet", textContent: "Cancel" });
    const row = make("li", {}, make("span", { className: "name", textContent: file.name }), cancel, progress, says);
    progress.setAttribute("aria-label", `${file.name} sent`);
    this.list.append(row);
    this.list.hidden = false;
    const job = { file, row, progress, says, cancel, stop: new AbortController() };
    cancel.addEventListener("click", () => this.cancel(job));
    this.waiting.push(job);
  }

  cancel(job) {
    this.waiting = this.waiting.filter((other) => other !== job);
    job.stop.abort();
    forget(job.file);
    job.row.remove();
    this.list.hidden = !this.list.children.length;
  }

  next() {
    while (this.running < AT_ONCE && this.waiting.length) {
      this.running += 1;
      this.run(this.waiting.shift()).finally(() => {
        this.running -= 1;
        this.next();
        if (!this.busy && this.handInWhenDone) this.form.requestSubmit();
      });
    }
  }

  async run(job) {
    const told = { set_up: this.form.querySelector("[name=set_up]")?.value };
    const on = ({ state, sent }) => {
      if (state === "lost") { job.says.textContent = "The connection is lost. What was sent is kept; it goes on by itself."; return; }
      job.progress.value = sent;
      job.says.textContent = `${megabytes(sent)} of ${megabytes(job.file.size)}`;
    };
    try {
      if (!job.file.size) throw new Refused("The file is empty: nothing in it could be kept.");
      const done = await send(this.form.dataset.send, job.file, { told, on, signal: job.stop.signal });
      job.row.remove();
      this.list.hidden = !this.list.children.length;
      await (this.handsIn ? this.offer(done, job.file) : this.lay(done));
    } catch (trouble) {
      if (trouble.name !== "AbortError") this.explain(job, trouble);
    }
  }

  explain(job, trouble) {
    job.progress.remove();
    job.says.textContent = trouble instanceof Refused ? trouble.message
      : trouble instanceof SignedOut ? "You are signed out. Sign in on another page, then try again; what was sent is kept."
      : "Sorry, this did not work. Nothing was lost; try again.";
    job.cancel.textContent = "Try again";
    job.cancel.replaceWith(job.cancel.cloneNode(true));
    const again = job.row.querySelector("button");
    again.addEventListener("click", () => { job.row.remove(); this.add(job.file); this.next(); });
  }

  /** Lays the new print on the contact sheet. */
  async lay({ frame }) {
    const li = await print(`${frame}on-the-sheet/`);
    document.getElementById(li.id)?.remove();
    const sheet = document.getElementById("sheet");
    let list = sheet.querySelector(".prints.just-came");
    if (!list) {
      sheet.querySelector(".empty")?.remove();
      list = make("ul", { className: "prints just-came" });
      sheet.prepend(make("section", {}, make("h2", { className: "day-slip", textContent: "Just came in" }), list));
    }
    list.append(li);
    watch(li);
  }

  /** Offers the new frame among those to hand in, already ticked. */
  async offer({ frame }, file) {
    const pk = frame.match(/(\d+)\/$/)[1];
    const sheet = document.getElementById("sheet");
    sheet.querySelector(".empty")?.remove();
    const there = sheet.querySelector(`input[value="${pk}"]`);
    if (there) { there.checked = true; return; }
    const tick = make("input", { type: "checkbox", name: "frames", value: pk, checked: true });
    const li = make("li", {}, make("label", { className: "print choosable" }, tick,
      make("span", { className: "no-picture", textContent: "Sent; being read" }), make("span", { className: "name", textContent: file.name })));
    sheet.prepend(li);
    watchOffered(li, frame);
  }
}

async function print(address) {
  const answer = await fetch(address, { headers: { "X-Requested-With": "fetch" } });
  if (!answer.ok) throw new Error(answer.status);
  const page = new DOMParser().parseFromString(await answer.text(), "text/html");
  return document.adoptNode(page.querySelector("li"));
}

/** Asks again for a print that is still being read, until it is. */
function watch(li) {
  if (!li.dataset.again) return;
  setTimeout(async () => {
    if (!li.isConnected) return;
    try {
      const now = await print(li.dataset.again);
      li.replaceWith(now);
      watch(now);
    } catch { watch(li); }
  }, AGAIN_MS);
}

/** The same among those to hand in: its picture, and what its file lacks, before it is handed in. */
function watchOffered(li, frame) {
  setTimeout(async () => {
    if (!li.isConnected) return;
    const now = await print(`${frame}on-the-sheet/`).catch(() => null);
    if (!now || now.dataset.again) { watchOffered(li, frame); return; }
    li.querySelector(".no-picture").replaceWith(Object.assign(now.querySelector("img, .no-picture"), { alt: "" }));
    for (const words of now.querySelectorAll(".file-trouble")) {
      words.setAttribute("role", "status");
      li.firstElementChild.append(words);
    }
  }, AGAIN_MS);
}

document.querySelectorAll("form[data-send]").forEach((form) => new Sending(form));
document.querySelectorAll("[data-again]").forEach(watch);
document.getElementById("sheet")?.addEventListener("submit", async (event) => {
  if (!event.target.matches("[data-mark]")) return;
  event.preventDefault();
  const said = new FormData(event.target, event.submitter);
  const answer = await fetch(event.target.action, { method: "POST", body: said, headers: { "X-Requested-With": "fetch" } });
  if (!answer.ok || answer.redirected) return event.target.submit();
  const page = new DOMParser().parseFromString(await answer.text(), "text/html");
  const li = event.target.closest("li");
  const now = document.adoptNode(page.querySelector("li"));
  const value = event.submitter.value;
  li.replaceWith(now);
  now.querySelector(`[value="${value}"]`)?.focus();
});
