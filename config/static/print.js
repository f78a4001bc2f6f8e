/* The print: fit, life-size of its pixels, single pixels. Parts come from the original on demand. */

import { askAgain } from "./again.js";

const TILE = 1024;
const AGAIN_MS = 3000; // a part that did not come is asked for again
const PINCH = 1.5; // fingers this much farther apart come one step closer
const POWERS = [["fit", "Fit", 0], ["true", "True pixels", 1], ["single", "Single pixels", 6]];
const make = (name, properties = {}, ...children) => {
  const element = Object.assign(document.createElement(name), properties);
  element.append(...children);
  return element;
};

/** Keeps the tiles of one original that were looked at. */
export class Original {
  constructor(address, width, height) {
    Object.assign(this, { address, width, height, tiles: new Map(), missing: 0 });
  }

  tile(column, row, ready) {
    const name = `${column}_${row}`;
    let image = this.tiles.get(name);
    if (image?.lost) { this.missing += 1; return null; }
    if (!image) {
      const [x, y] = [column * TILE, row * TILE];
      image = new Image();
      image.decoding = "async";
      image.src = `${this.address}?x=${x}&y=${y}&w=${Math.min(TILE, this.width - x)}&h=${Math.min(TILE, this.height - y)}`;
      this.tiles.set(name, image);
      image.addEventListener("error", () => {
        image.lost = true;
        ready();
        setTimeout(() => { this.tiles.delete(name); ready(); }, AGAIN_MS);
      });
    }
    if (image.complete && image.naturalWidth) return image;
    image.addEventListener("load", ready, { once: true });
    this.missing += 1;
    return null;
  }

  /** The tiles within these corners (pixels of the original) that are there; the others are fetched. */
  tilesIn(corners, ready) {
    const span = (values, size) => [Math.min(...values), Math.max(...values)].map((n) => Math.floor(Math.max(0, Math.min(size - 1, n)) / TILE));
    const [left, right] = span(corners.map((c) => c.x), this.width);
    const [top, bottom] = span(corners.map((c) => c.y), this.height);
    const there = [];
    for (let row = top; row <= bottom; row++) {
      for (let column = left; column <= right; column++) {
        const image = this.tile(column, row, ready);
        if (image) there.push({ image, x: column * TILE, y: row * TILE });
      }
    }
    return there;
  }

  /** Draws what lies round the point (x, y), in fractions, at `scale` screen pixels per pixel; `missing` parts are not there yet. */
  draw(canvas, fallback, x, y, scale, ready, over) {
    this.missing = 0;
    const ratio = devicePixelRatio || 1;
    const [w, h] = [canvas.clientWidth, canvas.clientHeight];
    canvas.width = w * ratio;
    canvas.height = h * ratio;
    const pen = canvas.getContext("2d");
    pen.setTransform(ratio, 0, 0, ratio, 0, 0);
    pen.imageSmoothingEnabled = scale < 2;
    const left = x * this.width * scale - w / 2;
    const top = y * this.height * scale - h / 2;
    if (fallback.complete) pen.drawImage(fallback, -left, -top, this.width * scale, this.height * scale);
    const last = (edge, size) => Math.floor(Math.max(0, Math.min(size - 1, edge / scale)) / TILE);
    for (let row = last(top, this.height); row <= last(top + h, this.height); row++) {
      for (let column = last(left, this.width); column <= last(left + w, this.width); column++) {
        const image = this.tile(column, row, ready);
        if (image) pen.drawImage(image, column * TILE * scale - left, row * TILE * scale - top, image.naturalWidth * scale, image.naturalHeight * scale);
      }
    }
    if (over?.complete && over.naturalWidth) pen.drawImage(over, -left, -top, this.width * scale, this.height * scale);
  }
}

class Print {
  constructor(figure) {
    this.figure = figure;
    this.paper = figure.querySelector(".paper");
    this.picture = figure.querySelector(".picture");
    this.original = new Original(figure.dataset.crop, Number(figure.dataset.width), Number(figure.dataset.height));
    this.canvas = make("canvas", { className: "close" });
    this.paper.append(this.canvas);
    this.at = [0.5, 0.5];
    this.held = new Map();
    this.power = 0;
    this.where = make("span", { className: "where", role: "status" });
    this.buttons = POWERS.map(([, words], power) => {
      const button = make("button", { type: "button", textContent: words });
      button.addEventListener("click", () => this.show(power));
      return button;
    });
    const powers = make("div", { className: "powers" }, ...this.buttons, this.where);
    powers.setAttribute("role", "group");
    powers.setAttribute("aria-label", "How close");
    this.paper.after(powers);
    this.listen();
    this.show(0);
  }

  get scale() { return POWERS[this.power][2] / (devicePixelRatio || 1); }

  listen() {
    this.paper.addEventListener("dblclick", (event) => this.closer(event));
    this.canvas.addEventListener("pointerdown", (event) => { this.held.set(event.pointerId, [event.clientX, event.clientY]); this.canvas.setPointerCapture(event.pointerId); this.span = this.apart; });
    this.canvas.addEventListener("pointermove", (event) => this.drag(event));
    for (const kind of ["pointerup", "pointercancel", "lostpointercapture"]) this.canvas.addEventListener(kind, (event) => this.held.delete(event.pointerId));
    this.paper.tabIndex = 0;
    this.paper.setAttribute("role", "group");
    this.paper.setAttribute("aria-label", "The print. z changes how close, arrow keys move.");
    addEventListener("keydown", (event) => this.key(event));
    addEventListener("resize", () => { if (this.figure.isConnected) this.draw(); });
    this.figure.addEventListener("print:closer", () => this.show((this.power + 1) % POWERS.length));
  }

  /** How far two fingers are apart. */
  get apart() {
    const [[a, b], [c, d]] = [...this.held.values(), [0, 0], [0, 0]];
    return Math.hypot(a - c, b - d);
  }

  /** One finger moves the print; two come closer or go back, a step at a time. */
  drag(event) {
    const from = this.held.get(event.pointerId);
    if (!from) return;
    this.held.set(event.pointerId, [event.clientX, event.clientY]);
    if (this.held.size === 1) { this.move((from[0] - event.clientX) / this.scale, (from[1] - event.clientY) / this.scale); return; }
    const step = Math.trunc(Math.log(this.apart / this.span) / Math.log(PINCH));
    if (!step) return;
    this.span = this.apart;
    this.show(Math.max(0, Math.min(POWERS.length - 1, this.power + Math.sign(step))));
  }

  key(event) {
    const elsewhere = document.activeElement?.closest("input, textarea, select, audio, button[data-move]");
    if (elsewhere || !this.figure.isConnected || event.defaultPrevented || event.ctrlKey || event.metaKey || event.altKey) return;
    const step = 120 / (this.scale || 1);
    const moves = { ArrowLeft: [-step, 0], ArrowRight: [step, 0], ArrowUp: [0, -step], ArrowDown: [0, step] };
    if (!this.power || !moves[event.key]) return;
    event.preventDefault();
    this.move(...moves[event.key]);
  }

  closer(event) {
    if (this.power === POWERS.length - 1) return this.show(0);
    const box = this.picture.getBoundingClientRect();
    if (!this.power) this.at = [(event.clientX - box.left) / box.width, (event.clientY - box.top) / box.height];
    this.show(this.power + 1);
  }

  move(dx, dy) {
    const clamp = (n) => Math.max(0, Math.min(1, n));
    this.at = [clamp(this.at[0] + dx / this.original.width), clamp(this.at[1] + dy / this.original.height)];
    this.draw();
  }

  show(power) {
    this.power = power;
    this.figure.classList.toggle("is-close", power > 0);
    this.buttons.forEach((button, k) => button.setAttribute("aria-pressed", String(k === power)));
    this.draw();
  }

  draw() {
    if (!this.power) { this.where.textContent = ""; return; }
    this.original.draw(this.canvas, this.picture, ...this.at, this.scale, () => this.draw(), this.paper.querySelector("img.over"));
    const coming = this.original.missing ? " · its own pixels are still coming" : ""; // till then it looks softer than it is
    this.where.textContent = `${Math.round(this.at[0] * this.original.width)}, ${Math.round(this.at[1] * this.original.height)} px${coming}`;
  }
}

export function begin(root = document) {
  root.querySelectorAll("[data-print][data-width]").forEach((figure) => new Print(figure));
  if (root !== document) askAgain(root); // the module itself asks for the page it was loaded with
}
begin();
