/* Two taps on millimetre marks; a lens follows the tap, arrow keys move the last mark by a pixel. */

import { Original } from "./print.js";

const SVG = "http://www.w3.org/2000/svg";

class Ruler {
  constructor(paper, form) {
    this.paper = paper;
    this.picture = paper.querySelector(".picture");
    this.size = [Number(paper.dataset.width), Number(paper.dataset.height)];
    this.fields = ["x1", "y1", "x2", "y2"].map((name) => form.elements[name]);
    this.original = new Original(paper.dataset.crop, ...this.size);
    this.svg = document.createElementNS(SVG, "svg");
    this.svg.setAttribute("class", "marks");
    this.svg.setAttribute("aria-hidden", "true");
    paper.append(this.svg);
    this.lens = Object.assign(document.createElement("canvas"), { className: "tap-lens" });
    paper.after(this.lens);
    this.next = 0;
    paper.tabIndex = 0;
    paper.setAttribute("role", "group");
    paper.setAttribute("aria-label", "Ruler frame. Enter changes between the two marks, arrow keys move one.");
    paper.addEventListener("click", (event) => this.tap(event));
    paper.addEventListener("keydown", (event) => this.key(event));
    this.fields.forEach((field) => field.addEventListener("input", () => this.draw()));
    this.draw();
  }

  tap(event) {
    const box = this.picture.getBoundingClientRect();
    this.set(this.next, [(event.clientX - box.left) / box.width * this.size[0], (event.clientY - box.top) / box.height * this.size[1]]);
    this.last = this.next;
    this.next = 1 - this.next;
    this.draw();
  }

  set(mark, point) {
    point.forEach((n, k) => { this.fields[2 * mark + k].value = Math.max(0, Math.min(this.size[k], n)).toFixed(1); });
  }

  get(mark) {
    const at = [0, 1].map((k) => this.fields[2 * mark + k].value);
    return at.some((text) => text === "") ? null : at.map(Number);
  }

  key(event) {
    const step = event.shiftKey ? 10 : 1;
    const moves = { ArrowLeft: [-step, 0], ArrowRight: [step, 0], ArrowUp: [0, -step], ArrowDown: [0, step] };
    if (event.key === "Enter") { this.last = 1 - (this.last ?? 1); this.set(this.last, this.get(this.last) ?? this.size.map((n) => n / 2)); }
    else if (moves[event.key]) { this.last ??= 0; this.set(this.last, (this.get(this.last) ?? this.size.map((n) => n / 2)).map((n, k) => n + moves[event.key][k])); }
    else return;
    event.preventDefault();
    this.draw();
  }

  draw() {
    const at = [0, 1].map((mark) => this.get(mark));
    this.svg.replaceChildren();
    const share = (point) => point.map((n, k) => `${(100 * n / this.size[k]).toFixed(3)}%`);
    const line = (kind, a, b) => {
      const shape = document.createElementNS(SVG, "line");
      shape.setAttribute("class", kind);
      [["x1", a[0]], ["y1", a[1]], ["x2", b[0]], ["y2", b[1]]].forEach(([name, value]) => shape.setAttribute(name, value));
      this.svg.append(shape);
    };
    if (at[0] && at[1]) ["edge", "core"].forEach((kind) => line(kind, share(at[0]), share(at[1])));
    for (const point of at.filter(Boolean)) {
      for (const kind of ["edge", "core"]) {
        const ring = document.createElementNS(SVG, "circle");
        ring.setAttribute("class", kind);
        ring.setAttribute("cx", share(point)[0]);
        ring.setAttribute("cy", share(point)[1]);
        ring.setAttribute("r", 10);
        this.svg.append(ring);
      }
    }
    const seen = this.get(this.last ?? 0);
    this.lens.classList.toggle("is-on", Boolean(seen));
    if (seen) this.original.draw(this.lens, this.picture, seen[0] / this.size[0], seen[1] / this.size[1], 4, () => this.draw());
  }
}

const paper = document.querySelector("[data-ruler]");
if (paper) new Ruler(paper, document.querySelector(".taps"));
