/* Words are kept while they are written; a page that is older than the kept words says so. */

import { staysHere } from "./turn.js";
import { answers, held, hold, letGo, putBack, token } from "./typed.js";

const AFTER_MS = 1200;
const LOST = "The connection is lost. What you wrote stays here; press again when it is back.";
let atWork = null; // the words of the print on the table
let goes = false; // the words have arrived, and who waited for them goes on

class Words {
  constructor(form) {
    this.form = form;
    this.says = form.querySelector("[data-kept]");
    this.revision = form.querySelector("[name=revision]");
    form.addEventListener("input", () => this.soon());
    form.addEventListener("change", () => this.soon());
    form.addEventListener("click", (event) => this.phrase(event.target.closest("[data-phrase]")));
    form.querySelector(".phrases")?.classList.add("begun");
    form.addEventListener("submit", () => { this.freshToken(); clearTimeout(this.timer); this.timer = null; this.leaving = true; });
    form.addEventListener("print:leave", (event) => event.detail.push(this.leave()));
    atWork = this;
    addEventListener("pagehide", () => this.leave());
    addEventListener("online", () => { if (this.waits) this.keep(); });
    this.findAgain();
  }

  /** Words that a lost session or line kept from the house: the tab still has them. */
  findAgain() {
    const before = held(this.form);
    const written = [...this.form.querySelectorAll("textarea, input:not([type=hidden], [type=checkbox])")];
    if (!before && written.some((field) => field.value !== field.defaultValue)) this.soon(); // typed before this ran
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
    return this.arrived();
  }

  /** Whether the house has every word; waits until it has, or until the line turns out to be lost. */
  async arrived() {
    if (this.timer) this.keep();
    while (this.running) await this.running;
    return !this.lost;
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

  freshToken() { this.form.elements.csrfmiddlewaretoken.value = token(); }

  keep(options = {}) {
    clearTimeout(this.timer);
    this.timer = null;
    if (this.running) { this.again = true; return; }
    this.running = this.send(options).finally(() => {
      this.running = null;
      if (this.again) { this.again = false; this.keep(); }
    });
  }

  async send(options) {
    this.freshToken();
    const said = new FormData(this.form);
    said.delete("decision");
    try {
      const answer = await fetch(this.form.dataset.words, { method: "POST", body: said, headers: { "X-Requested-With": "fetch" }, ...options });
      this.lost = false;
      if (answer.redirected) this.tell("You are signed out. Sign in on another page; your words stay here until then.", true);
      else if (answer.status === 404) this.tell("The print is not there any more: its maker took it away. Your words stay on this page; copy what you want to say elsewhere.", false);
      else if (![200, 409, 422].includes(answer.status)) this.tell("Not kept yet: the house did not take it. Your words stay here, and are sent again.", true);
      else this.heard(answer.status, await answer.json());
    } catch {
      this.lost = true;
      this.tell("Not kept yet: the connection is lost. Your words stay here.", true);
    }
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

/** Whoever leaves for another page waits for the words: a page made before they came would be older than they are. */
async function wordsFirst(event, go) {
  if (goes || !atWork?.form.isConnected || event.target === atWork.form) return;
  if (navigator.onLine && !atWork.timer && !atWork.running) return;
  event.preventDefault();
  event.stopImmediatePropagation();
  if (!await atWork.arrived() || !await answers()) { atWork.tell(LOST, true); return; }
  goes = true;
  go();
  goes = false;
}
document.addEventListener("submit", (event) => wordsFirst(event, () => event.target.requestSubmit(event.submitter)), true);
document.addEventListener("click", (event) => {
  const link = event.target.closest?.("a[href]:not([rel=next], [rel=prev], [target], [download])");
  if (!link || !staysHere(event) || link.getAttribute("href").startsWith("#")) return;
  wordsFirst(event, () => location.assign(link.href));
}, true);

/** Words of this form that are on their way right now: a decision follows them and does not race them. */
export function underway(form) { return atWork?.form === form ? atWork.running : null; }

export function begin(root = document) {
  const form = root.querySelector("#crit");
  if (form) new Words(form);
}
begin();
