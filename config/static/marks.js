/* The grease pencil: ring, corners, arrow, line, drawn on the print or set by keys.

Marks travel in the form's hidden field as [{frame, kind, at, words}], positions as fractions. */

const SVG = "http://www.w3.org/2000/svg";
const ARM = 0.25;
const START = { ring: [0.5, 0.5, 0.06], corners: [0.35, 0.35, 0.3, 0.3], arrow: [0.35, 0.65, 0.5, 0.5], line: [0.2, 0.5, 0.8, 0.5] };
const NAMES = { ring: "Look here", corners: "This part", arrow: "From here to there", line: "Level or edge" };
const clamp = (n) => Math.max(0, Math.min(1, n));
const percent = (n) => `${(100 * n).toFixed(3)}%`;

class Marks {
  constructor(form) {
    this.form = form;
    this.field = form.querySelector("[name=marks]");
    this.all = JSON.parse(this.field.value || "[]");
    this.figure = document.querySelector("[data-print][data-frame]");
    this.list = form.querySelector("[data-mark-list]");
    this.tools = form.querySelector("[data-pencils]");
    if (!this.figure || !this.tools) return;
    this.frame = Number(this.figure.dataset.frame);
    this.svg = this.figure.querySelector(".marks");
    this.tools.addEventListener("click", (event) => this.take(event.target.closest("[data-tool]")?.dataset.tool, event.detail === 0));
    this.svg.addEventListener("pointerdown", (event) => this.begin(event));
    this.svg.addEventListener("pointermove", (event) => this.stretch(event));
    this.svg.addEventListener("pointerup", (event) => this.end(event));
    form.addEventListener("marks:again", () => { this.all = JSON.parse(this.field.value || "[]"); this.show(); });
    this.show();
    this.tools.classList.add("begun");
  }

  get here() { return this.all.filter((mark) => mark.frame === this.frame); }

  /** Takes a pencil in hand; by keyboard it sets the mark in the middle, to be moved from the list. */
  take(tool, byKeyboard) {
    if (!tool) return;
    if (byKeyboard) {
      this.all.push({ frame: this.frame, kind: tool, at: [...START[tool]], words: "" });
      this.changed();
      this.list.lastElementChild.querySelector("[data-move]").focus();
      return;
    }
    this.tool = this.tool === tool ? null : tool;
    this.svg.classList.toggle("can-draw", Boolean(this.tool));
    this.tools.querySelectorAll("[data-tool]").forEach((b) => b.setAttribute("aria-pressed", String(b.dataset.tool === this.tool)));
    if (this.tool) this.svg.scrollIntoView({ block: "nearest" }); // on a phone the pencils lie far below the print
  }

  point(event) {
    const box = this.svg.getBoundingClientRect();
    return [clamp((event.clientX - box.left) / box.width), clamp((event.clientY - box.top) / box.height)];
  }

  begin(event) {
    if (!this.tool) return;
    event.preventDefault();
    this.svg.setPointerCapture(event.pointerId);
    this.from = this.point(event);
    this.drawing = { frame: this.frame, kind: this.tool, at: this.shape(this.from), words: "" };
    this.all.push(this.drawing);
  }

  shape([x, y]) {
    const [a, b] = this.from;
    const box = this.svg.getBoundingClientRect();
    if (this.tool === "ring") {
      const diagonal = Math.hypot(box.width, box.height) / Math.SQRT2; // what a percentage radius is of
      return [a, b, Math.min(1, Math.max(0.015, Math.hypot((x - a) * box.width, (y - b) * box.height) / diagonal))];
    }
    if (this.tool === "corners") return [Math.min(a, x), Math.min(b, y), Math.abs(x - a), Math.abs(y - b)];
    return [a, b, x, y];
  }

  stretch(event) {
    if (!this.drawing) return;
    this.drawing.at = this.shape(this.point(event));
    this.draw();
  }

  end(event) {
    if (!this.drawing) return;
    const moved = Math.hypot(...this.point(event).map((n, k) => n - this.from[k]));
    if (moved < 0.01) this.drawing.at = this.aroundATap();
    this.drawing = null;
    this.take(this.tool);
    this.changed();
    this.list.lastElementChild.querySelector("input").focus();
  }

  aroundATap() {
    const [x, y] = this.from;
    const at = START[this.tool];
    if (this.tool === "ring") return [x, y, at[2]];
    if (this.tool === "corners") return [clamp(x - 0.1), clamp(y - 0.1), 0.2, 0.2];
    return [clamp(x - 0.15), y, clamp(x + 0.15), y];
  }

  changed() {
    this.field.value = JSON.stringify(this.all);
    this.form.dispatchEvent(new Event("input", { bubbles: true }));
    this.show();
  }

  show() {
    this.draw();
    this.list.replaceChildren(...this.here.map((mark, k) => this.row(mark, k + 1)));
  }

  row(mark, number) {
    const li = document.createElement("li");
    li.value = number;
    const words = Object.assign(document.createElement("input"), { value: mark.words, maxLength: 500, placeholder: NAMES[mark.kind] });
    words.setAttribute("aria-label", `Words for mark ${number}`);
    words.addEventListener("change", () => { mark.words = words.value; this.field.value = JSON.stringify(this.all); });
    words.addEventListener("input", () => { mark.words = words.value; this.field.value = JSON.stringify(this.all); });
    const move = Object.assign(document.createElement("button"), { type: "button", textContent: "Move" });
    move.dataset.move = "";
    move.title = "Arrow keys move it, + and − change its size";
    move.addEventListener("keydown", (event) => this.nudge(event, mark, number));
    move.addEventListener("focus", () => this.choose(number));
    move.addEventListener("blur", () => this.choose(0));
    const away = Object.assign(document.createElement("button"), { type: "button", textContent: "Rub out" });
    away.setAttribute("aria-label", `Rub out mark ${number}`);
    away.addEventListener("click", () => { this.all.splice(this.all.indexOf(mark), 1); this.changed(); });
    const row = document.createElement("span");
    row.className = "mark-row";
    row.append(words, move, away);
    li.append(row);
    return li;
  }

  choose(number) {
    this.svg.querySelectorAll(".mark").forEach((g, k) => g.classList.toggle("is-chosen", k + 1 === number));
  }

  nudge(event, mark, number) {
    const step = event.shiftKey ? 0.05 : 0.01;
    const [dx, dy] = { ArrowLeft: [-step, 0], ArrowRight: [step, 0], ArrowUp: [0, -step], ArrowDown: [0, step] }[event.key] ?? [0, 0];
    const grow = { "+": 1.15, "=": 1.15, "-": 1 / 1.15 }[event.key];
    if (!dx && !dy && !grow) return;
    event.preventDefault();
    event.stopPropagation();
    const pairs = { ring: 2, corners: 2, arrow: 4, line: 4 }[mark.kind];
    mark.at = mark.at.map((n, k) => {
      if (k < pairs) return clamp(n + (k % 2 ? dy : dx));
      return grow ? Math.min(1, Math.max(0.01, n * grow)) : n;
    });
    if (grow && pairs === 4) mark.at = stretched(mark.at, grow);
    this.field.value = JSON.stringify(this.all);
    this.form.dispatchEvent(new Event("input", { bubbles: true }));
    this.draw();
    this.choose(number);
  }

  draw() {
    this.svg.querySelectorAll(".mark").forEach((g) => g.remove());
    this.here.forEach((mark, k) => this.svg.append(drawn(mark, k + 1)));
  }
}

function stretched([a, b, c, d], grow) {
  const [x, y] = [(a + c) / 2, (b + d) / 2];
  return [[a, x], [b, y], [c, x], [d, y]].map(([n, middle]) => clamp(middle + (n - middle) * grow));
}

/** One mark as SVG: every stroke twice, the dark edge below the white core. */
function drawn({ kind, at }, number) {
  const g = document.createElementNS(SVG, "g");
  g.setAttribute("class", `mark mark-${kind}`);
  const add = (name, attributes) => {
    const shape = document.createElementNS(SVG, name);
    for (const [key, value] of Object.entries(attributes)) shape.setAttribute(key, value);
    g.append(shape);
    return shape;
  };
  const strokes = kind === "ring" ? [["circle", { cx: percent(at[0]), cy: percent(at[1]), r: percent(at[2]) }]]
    : (kind === "corners" ? corners(at) : [at]).map(([x1, y1, x2, y2]) => ["line", { x1: percent(x1), y1: percent(y1), x2: percent(x2), y2: percent(y2) }]);
  for (const [name, attributes] of strokes) add(name, { ...attributes, class: "edge" });
  for (const [name, attributes] of strokes) add(name, { ...attributes, class: "core", ...(kind === "arrow" ? { "marker-end": "url(#head)" } : {}) });
  add("text", { x: percent(at[0]), y: percent(at[1]) }).textContent = number;
  return g;
}

function corners([x, y, w, h]) {
  const [r, b, dx, dy] = [x + w, y + h, w * ARM, h * ARM];
  return [[x, y, x + dx, y], [x, y, x, y + dy], [r, y, r - dx, y], [r, y, r, y + dy],
    [x, b, x + dx, b], [x, b, x, b - dy], [r, b, r - dx, b], [r, b, r, b - dy]];
}

export function begin(root = document) {
  const form = root.querySelector("#crit");
  if (form) new Marks(form);
}
begin();
