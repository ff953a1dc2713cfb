// Places marked on a photo: dragged by finger or mouse, moved by the arrow keys, or typed as numbers; all three agree.
const STEP = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };
const svg = document.querySelector("svg[data-marking]");
let held = null;

const fieldsOf = (key) => ["x", "y"].map((axis) => document.querySelector(`[name="${axis}-${key}"]`));
const placeOf = (event) => new DOMPoint(event.clientX, event.clientY).matrixTransform(svg.getScreenCTM().inverse());
const numberIn = (field) => Number(field.value.trim().replace(",", "."));

function now(key) {
  return fieldsOf(key).map(numberIn);
}

function redraw() {
  for (const handle of svg.querySelectorAll(".handle")) {
    const [x, y] = now(handle.dataset.key);
    if (Number.isFinite(x) && Number.isFinite(y)) handle.setAttribute("transform", `translate(${x} ${y})`);
  }
  for (const line of svg.querySelectorAll("[data-joins]")) {
    const places = line.dataset.joins.split(" ").map(now);
    if (places.flat().every(Number.isFinite)) line.setAttribute("points", places.map((one) => one.join(",")).join(" "));
  }
}

function put(handle, place) {
  const box = svg.viewBox.baseVal;
  const inside = [Math.min(box.width, Math.max(0, place[0])), Math.min(box.height, Math.max(0, place[1]))];
  fieldsOf(handle.dataset.key).forEach((field, axis) => { field.value = inside[axis].toFixed(0); });
  redraw();
  const words = handle.getAttribute("aria-label").split(":")[0];
  document.querySelector("[data-marked-said]").textContent = `${words}: ${inside[0].toFixed(0)} across, ${inside[1].toFixed(0)} down.`;
}

function showUsed() {
  for (const box of document.querySelectorAll("[data-uses]")) {
    const mine = [`${box.dataset.uses}-a`, `${box.dataset.uses}-b`];
    for (const handle of svg.querySelectorAll(".handle")) if (mine.includes(handle.dataset.key)) { handle.classList.toggle("unused", !box.checked); handle.setAttribute("tabindex", box.checked ? "0" : "-1"); }
    for (const line of svg.querySelectorAll("[data-joins]")) if (line.dataset.joins === mine.join(" ")) line.classList.toggle("unused", !box.checked);
    for (const key of mine) { const place = document.querySelector(`[data-place="${key}"]`); if (place) place.hidden = !box.checked; }
  }
}

if (svg) {
  svg.addEventListener("pointerdown", (event) => {
    const handle = event.target.closest(".handle");
    if (!handle) return;
    event.preventDefault();
    handle.focus();
    const start = placeOf(event);
    const from = now(handle.dataset.key);
    held = { handle, by: [from[0] - start.x, from[1] - start.y] };
    svg.setPointerCapture(event.pointerId);
  });
  svg.addEventListener("pointermove", (event) => {
    if (!held) return;
    const place = placeOf(event);
    put(held.handle, [place.x + held.by[0], place.y + held.by[1]]);
  });
  for (const end of ["pointerup", "pointercancel"]) svg.addEventListener(end, () => { held = null; });
  svg.addEventListener("keydown", (event) => {
    const handle = event.target.closest(".handle");
    const step = STEP[event.key];
    if (!handle || !step) return;
    event.preventDefault();
    const far = event.shiftKey ? 10 : 1;
    const from = now(handle.dataset.key);
    put(handle, [from[0] + step[0] * far, from[1] + step[1] * far]);
  });
  document.addEventListener("input", (event) => { if (event.target.matches("[name^='x-'], [name^='y-']")) redraw(); });
  document.addEventListener("change", (event) => { if (event.target.matches("[data-uses]")) showUsed(); });
  showUsed();
}
