/* A voice note, spoken while looking: recorded in the page, heard back, kept with the crit. */

import { token } from "./typed.js";

const LONGEST_S = 180;

class Voice {
  constructor(part) {
    this.part = part;
    this.button = part.querySelector("[data-record]");
    this.says = part.querySelector("[data-voice-says]");
    if (!navigator.mediaDevices?.getUserMedia || !globalThis.MediaRecorder) { this.button.hidden = true; return; }
    addEventListener("beforeunload", (event) => { if (this.pending) event.preventDefault(); });
    this.button.addEventListener("click", () => (this.recorder ? this.stop() : this.begin()));
    this.button.classList.add("begun");
  }

  async begin() {
    try {
      this.sound = await navigator.mediaDevices.getUserMedia({ audio: true });
    } catch {
      this.says.textContent = "The microphone is not there, or this page may not use it.";
      return;
    }
    this.pieces = [];
    this.recorder = new MediaRecorder(this.sound);
    this.recorder.addEventListener("dataavailable", (event) => this.pieces.push(event.data));
    this.recorder.addEventListener("stop", () => this.send());
    this.recorder.start(1000);
    this.began = Date.now();
    this.button.textContent = "Stop and keep";
    this.clock = setInterval(() => this.tick(), 500);
  }

  tick() {
    const seconds = Math.round((Date.now() - this.began) / 1000);
    this.says.textContent = `Recording, ${seconds} s`;
    if (seconds >= LONGEST_S || !this.part.isConnected) this.stop();
  }

  stop() {
    clearInterval(this.clock);
    this.recorder.stop();
    this.sound.getTracks().forEach((track) => track.stop());
  }

  send() {
    const note = new Blob(this.pieces, { type: this.recorder.mimeType });
    this.recorder = null;
    this.button.textContent = "Record again";
    this.keep(note);
  }

  /** A note that could not be kept stays, to be heard and to be sent once more. */
  async keep(note) {
    this.again?.remove();
    this.pending = null;
    const said = new FormData();
    said.append("voice", note, "note");
    said.append("csrfmiddlewaretoken", token());
    this.says.textContent = "Being kept …";
    try {
      const answer = await fetch(this.part.dataset.voice, { method: "POST", body: said, headers: { "X-Requested-With": "fetch" } });
      if (answer.redirected) return this.waits(note, "Not kept yet: you are signed out. Sign in on another page, then send the note again.");
      const told = await answer.json();
      if (!answer.ok) { this.says.textContent = told.trouble; return; }
      this.says.textContent = "Kept.";
      this.hear(told.hear);
    } catch {
      this.waits(note, "Not kept yet: the connection is lost. The note stays here and is sent again when it is back.");
      addEventListener("online", () => { if (this.pending === note) this.keep(note); }, { once: true });
    }
  }

  waits(note, words) {
    this.says.textContent = words;
    this.pending = note;
    this.again = Object.assign(document.createElement("button"), { type: "button", textContent: "Send the note again" });
    this.again.addEventListener("click", () => this.keep(note));
    this.says.after(this.again);
    this.hear(URL.createObjectURL(note));
  }

  hear(address) {
    const player = this.part.querySelector("audio") ?? this.part.appendChild(Object.assign(document.createElement("audio"), { controls: true }));
    player.src = address;
  }
}

export function begin(root = document) {
  root.querySelectorAll("[data-voice]").forEach((part) => new Voice(part));
}
begin();
