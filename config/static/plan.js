// "What if" recomputed while one types: the same few formulas as shootlog/what_if.py, held
// against it by tests/pages/test_plan.py. The drawing and the curves come from the server.

const WAVELENGTH_UM = 0.55;
const BEST_WAVES = 0.236846;
const ROUNDING_SPARE = 1e-9;

// --- numbers as the house writes them (shootlog/wording.py) ---

export function figures(value, digits = 2) {
  if (value === 0 || !Number.isFinite(value)) return String(value);
  const places = digits - 1 - Math.floor(Math.log10(Math.abs(value)));
  const scale = 10 ** places;
  const rounded = places > 0 ? Number(value.toFixed(Math.min(places, 100))) : Math.round(value * scale) / scale;
  return rounded.toFixed(Math.max(places, 0));
}

export function fNumber(value) {
  return value < 10 ? `f/${value.toFixed(1).replace(/\.0$/, "")}` : `f/${value.toFixed(0)}`;
}

// --- light (shootlog/what_if.py, optics) ---

function discAsSoft(waves, table) {
  const [at, discs] = table;
  const end = at[at.length - 1];
  if (waves >= end) return discs[discs.length - 1] + 8 * (waves - end);
  const next = at.findIndex((one) => one > waves);
  const share = (waves - at[next - 1]) / (at[next] - at[next - 1]);
  return discs[next - 1] + share * (discs[next] - discs[next - 1]);
}

function circleUm(width, height) {
  const shape = width >= 12 && width <= 18.5 ? 3 / 4 : 2 / 3;
  return (1000 * Math.hypot(width, height || width * shape)) / 1500;
}

export function whatIf(asked, table) {
  const bare = asked.lens_magnification + asked.tube_mm / asked.focal_length_mm;
  const light = (1 + bare / asked.pupil_ratio) * asked.converter;
  const power = asked.close_up_dioptre / 1000;
  const gap = Math.max(asked.rim_mm, 0);
  const magnification = (bare + (asked.focal_length_mm * (1 + bare) - gap * bare) * power) * asked.converter;
  const along = asked.focal_length_mm * (1 + 1 / bare);
  const free = power ? 1 / (power + 1 / (along - gap)) : along - asked.rim_mm;
  const effective = asked.f_number * light;
  const circle = circleUm(asked.sensor_width_mm, asked.sensor_height_mm);
  const depth = (2 * effective * circle) / 1000 / magnification ** 2;
  const shiftUm = (1000 * magnification ** 2 * asked.subject_depth_mm) / 2;
  const unit = WAVELENGTH_UM * effective;
  const step = (1 - asked.overlap) * depth;
  const spread = 1000 * asked.subject_depth_mm * magnification ** 2;
  return {
    magnification,
    frame_width_mm: asked.sensor_width_mm / magnification,
    effective_f_number: effective,
    light_lost_stops: 2 * Math.log2(light),
    coc_um: circle,
    depth_mm: depth,
    blur_um: unit * discAsSoft(shiftUm / effective / (8 * unit), table),
    best_f_number: Math.sqrt(spread / (16 * BEST_WAVES * WAVELENGTH_UM)) / light,
    step_mm: step,
    free_mm: free,
    frames: Math.max(Math.ceil((asked.subject_depth_mm - depth) / step - ROUNDING_SPARE), 0) + 1,
  };
}

const WRITTEN = {
  magnification: (v) => `${figures(v)} times`,
  frame_width_mm: (v) => `${figures(v)} mm`,
  free_mm: (v) => `${figures(v)} mm`,
  effective_f_number: fNumber,
  light_lost_stops: (v) => `${v.toFixed(1)} stops`,
  coc_um: (v) => `${figures(v)} µm`,
  depth_mm: (v) => `${figures(v)} mm`,
  blur_um: (v) => `${figures(v)} µm`,
  best_f_number: fNumber,
  frames: (v) => String(v),
  step_mm: (v) => `${figures(v)} mm`,
};
const EMPTY = { lens_magnification: 0, tube_mm: 0, close_up_dioptre: 0, converter: 1, overlap: 0.25, sensor_height_mm: 0, pupil_ratio: 1, rim_mm: 0 };

// --- the page ---

function read(form) {
  const asked = {};
  for (const input of form.querySelectorAll("input[type=number]")) {
    const open = input.value.trim() === "";
    if (!open && !input.checkValidity()) return null;
    asked[input.name] = open ? EMPTY[input.name] : input.valueAsNumber;
    if (asked[input.name] === undefined || Number.isNaN(asked[input.name])) return null;
  }
  return asked;
}

// A slider beside the number, for the few that one likes to turn.
const SLID = { f_number: [1.4, 32, 0.1], tube_mm: [0, 80, 1], close_up_dioptre: [0, 10, 0.5], subject_depth_mm: [0.5, 40, 0.5] };

function addSliders(form) {
  for (const [name, [min, max, step]] of Object.entries(SLID)) {
    const input = form.elements[name];
    const slider = document.createElement("input");
    Object.assign(slider, { type: "range", min, max, step, value: input.value || min });
    slider.setAttribute("aria-label", `${form.querySelector(`label[for=${input.id}]`).textContent}, turned`);
    slider.addEventListener("input", () => {
      input.value = slider.value;
      form.dispatchEvent(new Event("input", { bubbles: true }));
    });
    input.addEventListener("input", () => { if (input.value) slider.value = input.value; });
    input.after(slider);
  }
}

async function drawAgain(form, place, signal) {
  const address = `${location.pathname}?${new URLSearchParams(new FormData(form))}`;
  const answer = await fetch(address, { signal });
  if (!answer.ok) return;
  const page = new DOMParser().parseFromString(await answer.text(), "text/html");
  const drawn = page.getElementById("drawn");
  if (drawn) place.replaceChildren(...drawn.childNodes);
  history.replaceState(null, "", address);
}

function begin(root) {
  const form = root.querySelector("form");
  const table = JSON.parse(root.dataset.blurTable);
  const place = document.getElementById("drawn");
  let waiting, running;
  addSliders(form);
  form.addEventListener("input", () => {
    const asked = read(form);
    clearTimeout(waiting);
    if (!asked || !(asked.lens_magnification || asked.tube_mm || asked.close_up_dioptre)) return;
    const found = whatIf(asked, table);
    if (!(found.free_mm > 0)) return; // inside the lens: the server says so in words
    for (const out of root.querySelectorAll("[data-out]")) {
      out.textContent = WRITTEN[out.dataset.out](found[out.dataset.out]);
    }
    waiting = setTimeout(() => {
      running?.abort();
      running = new AbortController();
      // Without signal the drawing stays as it was; the numbers above are already right.
      drawAgain(form, place, running.signal).catch(() => {});
    }, 400);
  });
}

document.querySelectorAll("[data-what-if]").forEach(begin);
