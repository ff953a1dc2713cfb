// Places marked on a photo: dragged by finger or mouse, moved by the arrow keys, or typed as numbers; all three agree.
import { sayMoved, takeHandles } from "./parts/handles.js";

const svg = document.querySelector("svg[data-marking]");

const fieldsOf = (key) => ["x", "y"].map((axis) => document.querySelector(`[name="${axis}-${key}"]`));
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
  sayMoved({ place: handle.dataset.words, across: inside[0].toFixed(0), down: inside[1].toFixed(0) });
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
  document.addEventListener("input", (event) => { if (event.target.matches("[name^='x-'], [name^='y-']")) redraw(); });
  document.addEventListener("change", (event) => { if (event.target.matches("[data-uses]")) showUsed(); });
  showUsed();
  takeHandles(svg, { at: (handle) => now(handle.dataset.key), put });
}
