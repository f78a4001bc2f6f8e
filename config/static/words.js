/* Words are kept while they are written; a page that is older than the kept words says so. */

import { held, hold, letGo, putBack } from "./typed.js";

const AFTER_MS = 1200;

class Words {
  constructor(form) {
    this.form = form;
    this.says = form.querySelector("[data-kept]");
    this.revision = form.querySelector("[name=revision]");
    form.addEventListener("input", () => this.soon());
    form.addEventListener("change", () => this.soon());
    form.addEventListener("click", (event) => this.phrase(event.target.closest("[data-phrase]")));
    form.addEventListener("submit", () => { this.freshToken(); clearTimeout(this.timer); this.leaving = true; });
    form.addEventListener("print:leave", () => this.leave());
    addEventListener("pagehide", () => this.leave());
    addEventListener("online", () => { if (this.waits) this.keep(); });
    this.findAgain();
  }

  /** Words that a lost session or line kept from the house: the tab still has them. */
  findAgain() {
    const before = held(this.form);
    if (!before) return;
    if (before.revision !== this.revision.value) {
      const words = before.values.find(([name]) => name === "words")?.[1];
      if (words && words !== this.form.elements.words.value) this.tell(`You had also written here: “${words}”`, false);
      letGo(this.form);
    } else if (putBack(this.form)) {
      this.form.dispatchEvent(new Event("marks:again"));
      this.tell("What you had written before is back.", false);
      this.soon();
    }
  }

  /** What was not kept yet is kept on the way out, unless a decision carries it. */
  leave() {
    if (this.timer && !this.leaving) this.keep({ keepalive: true });
  }

  phrase(button) {
    if (!button) return;
    const area = this.form.querySelector("textarea");
    area.value = [area.value.trimEnd(), button.dataset.phrase].filter(Boolean).join(" ");
    area.focus();
    this.soon();
  }

  soon() {
    clearTimeout(this.timer);
    hold(this.form, { revision: this.revision.value });
    this.timer = setTimeout(() => this.keep(), AFTER_MS);
  }

  /** Signing in again on another page changes the token; the words of this one must still go. */
  freshToken() {
    const token = document.cookie.split("; ").find((c) => c.startsWith("csrftoken="))?.split("=")[1];
    if (token) this.form.elements.csrfmiddlewaretoken.value = token;
  }

  async keep(options = {}) {
    clearTimeout(this.timer);
    this.timer = null;
    if (this.running) { this.again = true; return; }
    this.running = true;
    this.freshToken();
    const said = new FormData(this.form);
    said.delete("decision");
    try {
      const answer = await fetch(this.form.dataset.words, { method: "POST", body: said, headers: { "X-Requested-With": "fetch" }, ...options });
      if (answer.redirected) this.tell("You are signed out. Sign in on another page; your words stay here until then.", true);
      else if (answer.status === 404) this.tell("The print is not there any more: its maker took it away. Your words stay on this page; copy what you want to say elsewhere.", false);
      else this.heard(answer.status, await answer.json());
    } catch {
      this.tell("Not kept yet: the connection is lost. Your words stay here.", true);
    }
    this.running = false;
    if (this.again) { this.again = false; this.keep(); }
  }

  heard(status, told) {
    if (status === 200) {
      this.revision.value = told.revision;
      if (this.again || this.timer) hold(this.form, { revision: told.revision });
      else letGo(this.form);
      this.tell(`Kept ${told.kept_at}`, false);
    } else if (status === 409) {
      this.tell(`${told.trouble} Keep or decide to see both.`, true);
    } else {
      this.tell(told.trouble, true);
    }
  }

  tell(words, waits) {
    this.says.textContent = words;
    this.waits = waits;
    if (waits) setTimeout(() => { if (this.waits && this.form.isConnected) this.keep(); }, 15000);
  }
}

export function begin(root = document) {
  const form = root.querySelector("#crit");
  if (form) new Words(form);
}
begin();
