/* A pair: side by side under one lens, or wiped, the second laid over the first. Both move together. */

import { Original } from "./print.js";

const LENS_POWERS = [1, 3, 0.5];
const LENS_PX = 220;
const CLOSE = [["Fit", 0], ["True pixels", 1], ["Single pixels", 6]];
const clamp = (n) => Math.max(0, Math.min(1, n));
const make = (name, properties = {}, ...children) => {
  const element = Object.assign(document.createElement(name), properties);
  element.append(...children);
  return element;
};

class Pair {
  constructor(table) {
    this.table = table;
    this.power = 0;
    this.close = 0;
    this.wipe = 0.5;
    this.middle = [0.5, 0.5];
    this.sides = [...table.querySelectorAll("figure[data-width]")].map((figure) => this.side(figure));
    if (!this.sides.length) return;
    addEventListener("keydown", (event) => this.key(event));
    for (const part of document.querySelectorAll(".needs-scripts")) part.classList.add("begun");
    if (this.sides.length === 2) this.canBeLaid();
  }

  side(figure) {
    const paper = figure.querySelector(".paper");
    const lens = make("canvas", { className: "lens" });
    paper.append(lens);
    paper.tabIndex = 0;
    paper.setAttribute("role", "group");
    paper.setAttribute("aria-label", `${figure.dataset.side}: arrow keys move the lens over both prints`);
    const side = { figure, paper, lens, picture: figure.querySelector(".picture"), original: new Original(figure.dataset.crop, Number(figure.dataset.width), Number(figure.dataset.height)) };
    const over = (event) => {
      const box = side.picture.getBoundingClientRect();
      this.at = [(event.clientX - box.left) / box.width, (event.clientY - box.top) / box.height];
      this.draw();
    };
    paper.addEventListener("pointermove", over);
    paper.addEventListener("pointerdown", over);
    paper.addEventListener("pointerleave", (event) => { if (event.pointerType === "mouse") { this.at = null; this.draw(); } });
    paper.addEventListener("focus", () => { if (paper.matches(":focus-visible")) { this.at ??= [0.5, 0.5]; this.draw(); } });
    return side;
  }

  key(event) {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    const step = event.shiftKey ? 0.05 : 0.01;
    const moves = { ArrowLeft: [-step, 0], ArrowRight: [step, 0], ArrowUp: [0, -step], ArrowDown: [0, step] };
    if (event.key === "z") this.closer();
    if (event.key === "v" && this.choose) this.choose(this.isWiped ? 0 : 1);
    if (!moves[event.key] || !this.sides.some((side) => side.paper === document.activeElement)) return;
    event.preventDefault();
    this.at = (this.at ?? [0.5, 0.5]).map((n, k) => clamp(n + moves[event.key][k]));
    this.draw();
  }

  closer() {
    if (this.isWiped) { this.come((this.close + 1) % CLOSE.length); return; }
    this.power = (this.power + 1) % LENS_POWERS.length;
    this.at ??= [0.5, 0.5];
    this.draw();
  }

  draw() {
    for (const side of this.sides) {
      side.paper.classList.toggle("has-lens", Boolean(this.at));
      if (!this.at) continue;
      const [x, y] = this.at;
      side.lens.style.left = `${x * side.picture.clientWidth - LENS_PX / 2}px`;
      side.lens.style.top = `${y * side.picture.clientHeight - LENS_PX / 2}px`;
      side.original.draw(side.lens, side.picture, x, y, LENS_POWERS[this.power] / (devicePixelRatio || 1), () => this.draw());
    }
  }

  /* --- wiped --- */

  canBeLaid() {
    this.stage = make("canvas", { className: "stage", tabIndex: 0 });
    this.stage.setAttribute("role", "img");
    this.stage.setAttribute("aria-label", "The second print laid over the first, up to the edge of the wipe");
    this.edge = make("input", { type: "range", min: 0, max: 100, step: 0.5, value: 50 });
    this.edge.addEventListener("input", () => { this.wipe = this.edge.value / 100; this.lay(); });
    this.says = document.querySelector("[data-says]");
    this.ways = ["Side by side", "Wiped"].map((words, k) => this.button(words, () => this.choose(k)));
    this.powers = CLOSE.map(([words], k) => this.button(words, () => this.come(k)));
    this.how = make("div", { className: "acts", hidden: true }, ...this.powers);
    this.how.setAttribute("role", "group");
    this.how.setAttribute("aria-label", "How close");
    document.querySelector("[data-ways]").append(...this.ways);
    this.slide = make("label", { className: "wipe-edge", hidden: true }, "Before | after", this.edge);
    this.wiped = make("div", { className: "table-top wiped", hidden: true }, this.stage);
    this.table.after(this.wiped, this.slide, this.how);
    this.listen();
    this.choose = (k) => this.show(k === 1);
    this.show(false);
  }

  button(words, act) {
    const button = make("button", { type: "button", textContent: words });
    button.addEventListener("click", act);
    return button;
  }

  async show(wiped) {
    this.isWiped = wiped;
    this.ways.forEach((b, k) => b.setAttribute("aria-pressed", String(k === Number(wiped))));
    this.table.hidden = wiped;
    document.querySelector("[data-lens-help]").hidden = wiped;
    for (const part of [this.wiped, this.slide, this.how]) part.hidden = !wiped;
    if (!wiped) { this.says.textContent = ""; return; }
    this.come(0);
    if (this.matrix) return;
    this.says.textContent = "Being laid over each other …";
    try {
      const answer = await fetch(this.table.dataset.laid, { headers: { "X-Requested-With": "fetch" } });
      const told = await answer.json();
      this.matrix = told.matrix;
      this.told = told.words;
    } catch { this.told = "The connection is lost; they lie edge on edge until it is back."; }
    this.lay();
  }

  come(close) {
    this.close = close;
    this.powers.forEach((b, k) => b.setAttribute("aria-pressed", String(k === close)));
    this.lay();
  }

  listen() {
    this.stage.addEventListener("pointerdown", (event) => { this.held = [event.clientX, event.clientY]; this.stage.setPointerCapture(event.pointerId); this.drag(event); });
    this.stage.addEventListener("pointermove", (event) => { if (this.held) this.drag(event); });
    for (const kind of ["pointerup", "pointercancel"]) this.stage.addEventListener(kind, () => { this.held = null; });
    this.stage.addEventListener("keydown", (event) => this.keyOnStage(event));
    addEventListener("resize", () => this.lay());
  }

  /** At fit a finger draws the edge along; closer it moves both prints. */
  drag(event) {
    if (!this.close) {
      const box = this.stage.getBoundingClientRect();
      this.edge.value = 100 * clamp((event.clientX - box.left) / box.width);
      this.wipe = this.edge.value / 100;
    } else {
      const [w, h] = [this.sides[0].original.width, this.sides[0].original.height];
      this.middle = [clamp(this.middle[0] + (this.held[0] - event.clientX) / this.scale / w), clamp(this.middle[1] + (this.held[1] - event.clientY) / this.scale / h)];
      this.held = [event.clientX, event.clientY];
    }
    this.lay();
  }

  keyOnStage(event) {
    const move = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[event.key];
    if (!move) return;
    event.preventDefault();
    if (!this.close) { this.wipe = clamp(this.wipe + move[0] * 0.02); this.edge.value = 100 * this.wipe; }
    else {
      const { width, height } = this.sides[0].original;
      this.middle = [clamp(this.middle[0] + move[0] * 60 / this.scale / width), clamp(this.middle[1] + move[1] * 60 / this.scale / height)];
    }
    this.lay();
  }

  get fit() {
    const { width, height } = this.sides[0].original;
    return Math.min(this.stage.clientWidth / width, this.stage.clientHeight / height);
  }

  get scale() { return this.close ? CLOSE[this.close][1] / (devicePixelRatio || 1) : this.fit; }

  lay() {
    if (!this.isWiped) return;
    const [first, second] = this.sides;
    for (const side of this.sides) side.original.missing = 0;
    const { width, height } = first.original;
    this.stage.style.aspectRatio = this.close ? "" : `${width} / ${height}`;
    const ratio = devicePixelRatio || 1;
    const [w, h] = [this.stage.clientWidth, this.stage.clientHeight];
    Object.assign(this.stage, { width: w * ratio, height: h * ratio });
    const pen = this.stage.getContext("2d");
    const [x, y] = this.close ? this.middle : [0.5, 0.5];
    const to = [this.scale, 0, 0, this.scale, w / 2 - x * width * this.scale, h / 2 - y * height * this.scale];
    const across = this.wipe * w;
    this.part(pen, ratio, [0, across], to, first, null);
    this.part(pen, ratio, [across, w], to, second, this.matrix ?? byEdges(first.original, second.original));
    pen.setTransform(ratio, 0, 0, ratio, 0, 0);
    for (const [colour, wide] of [["#1d1b18", 5], ["#fff", 2]]) {
      pen.fillStyle = colour;
      pen.fillRect(across - wide / 2, 0, wide, h);
    }
    if (!this.told) return;
    const coming = first.original.missing + second.original.missing ? " Their own pixels are still coming." : ""; // till then both look softer
    if (this.says.textContent !== this.told + coming) this.says.textContent = this.told + coming;
  }

  /** Draws one print between two edges: its screen picture, and close up its own pixels over it. */
  part(pen, ratio, [from, until], to, side, matrix) {
    pen.save();
    pen.setTransform(ratio, 0, 0, ratio, 0, 0);
    pen.beginPath();
    pen.rect(from, 0, until - from, this.stage.clientHeight);
    pen.clip();
    pen.transform(...to);
    if (matrix) pen.transform(...matrix);
    const { original, picture } = side;
    pen.imageSmoothingEnabled = this.scale < 2;
    if (picture.complete) pen.drawImage(picture, 0, 0, original.width, original.height);
    if (this.close) {
      const back = pen.getTransform().inverse();
      const corners = [[from, 0], [until, 0], [from, this.stage.clientHeight], [until, this.stage.clientHeight]].map(([a, b]) => back.transformPoint({ x: a * ratio, y: b * ratio }));
      original.tilesIn(corners, () => this.lay()).forEach(({ image, x, y }) => pen.drawImage(image, x, y));
    }
    pen.restore();
  }
}

/** Until they are laid over each other: the second as wide as the first, middle on middle. */
function byEdges(first, second) {
  const grow = Math.max(first.width, first.height) / Math.max(second.width, second.height);
  return [grow, 0, 0, grow, (first.width - grow * second.width) / 2, (first.height - grow * second.height) / 2];
}

document.querySelectorAll("[data-pair]").forEach((table) => new Pair(table));
