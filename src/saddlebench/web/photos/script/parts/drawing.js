// Points of a mark: set by touch, or by a cross that the arrow keys move and Enter sets. The form holds them.
import { told } from "../../../base/script/parts/told.js";

const SVG = "http://www.w3.org/2000/svg";
const STEP = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };
let points = [];
let cross = null;

const sheetOf = (element) => element.closest("#drawing");
const wanted = (sheet) => Number(sheet.querySelector("[name=kind]:checked").dataset.points);

function element(name, attributes) {
  const made = document.createElementNS(SVG, name);
  for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
  return made;
}

function redraw(sheet) {
  const svg = sheet.querySelector("svg[data-draw]");
  const box = svg.viewBox.baseVal;
  svg.querySelector(".drafted")?.remove();
  const group = element("g", { class: "drafted" });
  const path = points.map(([x, y]) => `${(x / 100) * box.width},${(y / 100) * box.height}`).join(" ");
  const size = Math.max(box.width, box.height) / 90;
  if (points.length > 1) for (const kind of ["halo", ""]) group.append(element("polyline", { class: kind, points: path, "vector-effect": "non-scaling-stroke" }));
  for (const [x, y] of cross ? [...points, cross] : points) {
    const [px, py] = [(x / 100) * box.width, (y / 100) * box.height];
    const d = `M${px - size} ${py}H${px + size}M${px} ${py - size}V${py + size}`;
    for (const kind of ["cross halo", "cross"]) group.append(element("path", { class: kind, d, "vector-effect": "non-scaling-stroke" }));
  }
  svg.append(group);
}

function say(sheet, words) {
  sheet.querySelector("[data-said]").textContent = words;
}

function set(sheet, point) {
  const form = sheet.querySelector("[data-draw-form]");
  points.push(point);
  points.forEach(([x, y], at) => {
    form.elements.namedItem(`x${at + 1}`).value = x.toFixed(2);
    form.elements.namedItem(`y${at + 1}`).value = y.toFixed(2);
  });
  redraw(sheet);
  const left = wanted(sheet) - points.length;
  if (left > 0) return say(sheet, told("Point {number} set, {number2} more.", { number: points.length, number2: left }));
  const known = form.elements.namedItem("known_mm");
  if (form.querySelector("[name=kind]:checked").value === "known" && !known.value.trim()) {
    say(sheet, told("Say how long it is, then Draw."));
    sheet.querySelector(".draw-form details").open = true;
    return known.focus();
  }
  points = [];
  form.requestSubmit();
}

// Forgets the points of a mark that was begun.
export function startMark(sheet) {
  points = [];
  for (const field of sheet.querySelectorAll(".points input")) field.value = "";
  redraw(sheet);
}

export function startDrawing() {
  const ready = () => {
    const svg = document.querySelector("svg[data-draw]");
    svg?.setAttribute("tabindex", "0");
  };
  ready();
  document.addEventListener("htmx:afterSwap", () => { points = []; ready(); });
  document.addEventListener("change", (event) => {
    if (event.target.matches?.("[data-draw-form] [name=kind]")) startMark(sheetOf(event.target));
  });
  document.addEventListener("click", (event) => {
    const svg = event.target.closest?.("svg[data-draw]");
    if (!svg) return;
    const box = svg.getBoundingClientRect();
    cross = null;
    set(sheetOf(svg), [((event.clientX - box.left) / box.width) * 100, ((event.clientY - box.top) / box.height) * 100]);
  });
  document.addEventListener("keydown", (event) => {
    const svg = event.target.closest?.("svg[data-draw]");
    if (!svg) return;
    const sheet = sheetOf(svg);
    const step = STEP[event.key];
    if (step) {
      event.preventDefault();
      const far = event.shiftKey ? 5 : 1;
      cross ??= [50, 50];
      cross = cross.map((at, axis) => Math.min(100, Math.max(0, at + step[axis] * far)));
      redraw(sheet);
      say(sheet, told("Cross at {number} across, {number2} down.", { number: cross[0], number2: cross[1] }));
    } else if (event.key === "Enter" && cross) {
      event.preventDefault();
      set(sheet, [...cross]);
    } else if (event.key === "Escape") {
      cross = null;
      startMark(sheet);
    }
  });
}
