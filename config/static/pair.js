/* One lens over both prints of a pair: what lies under it is drawn at the original's own pixels. */

import { Original } from "./print.js";

const POWERS = [1, 3, 0.5];
const LENS_PX = 220;

class Pair {
  constructor(table) {
    this.power = 0;
    this.sides = [...table.querySelectorAll("figure[data-width]")].map((figure) => this.side(figure));
    if (!this.sides.length) return;
    document.querySelector("[data-lens-help]").hidden = false;
    addEventListener("keydown", (event) => this.key(event));
  }

  side(figure) {
    const paper = figure.querySelector(".paper");
    const lens = Object.assign(document.createElement("canvas"), { className: "lens" });
    paper.append(lens);
    paper.tabIndex = 0;
    paper.setAttribute("role", "group");
    paper.setAttribute("aria-label", `${figure.dataset.side}: arrow keys move the lens over both prints`);
    const side = { paper, lens, picture: figure.querySelector(".picture"), original: new Original(figure.dataset.crop, Number(figure.dataset.width), Number(figure.dataset.height)) };
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
    const step = event.shiftKey ? 0.05 : 0.01;
    const moves = { ArrowLeft: [-step, 0], ArrowRight: [step, 0], ArrowUp: [0, -step], ArrowDown: [0, step] };
    if (event.key === "z") { this.power = (this.power + 1) % POWERS.length; this.at ??= [0.5, 0.5]; this.draw(); }
    if (!moves[event.key] || !this.sides.some((side) => side.paper === document.activeElement)) return;
    event.preventDefault();
    this.at = (this.at ?? [0.5, 0.5]).map((n, k) => Math.max(0, Math.min(1, n + moves[event.key][k])));
    this.draw();
  }

  draw() {
    for (const side of this.sides) {
      side.paper.classList.toggle("has-lens", Boolean(this.at));
      if (!this.at) continue;
      const [x, y] = this.at;
      side.lens.style.left = `${x * side.picture.clientWidth - LENS_PX / 2}px`;
      side.lens.style.top = `${y * side.picture.clientHeight - LENS_PX / 2}px`;
      side.original.draw(side.lens, side.picture, x, y, POWERS[this.power] / (devicePixelRatio || 1), () => this.draw());
    }
  }
}

document.querySelectorAll("[data-pair]").forEach((table) => new Pair(table));
