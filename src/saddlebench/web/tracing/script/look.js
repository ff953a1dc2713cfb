// Handles on a curve over its photo: between two of them a move fades evenly. The form holds the moves.
import { sayMoved, takeHandles } from "./parts/handles.js";

const svg = document.querySelector("svg[data-over]");
const moves = new Map();

const curveOf = (handle) => handle.closest("[data-curve]");

function homeOf(handle) {
  handle.home ??= handle.getAttribute("transform").match(/-?[\d.]+/g).map(Number);
  return handle.home;
}

function shiftsOf(curve) {
  const number = curve.dataset.curve;
  if (!moves.has(number)) moves.set(number, {});
  return moves.get(number);
}

function redraw(curve) {
  const shifts = shiftsOf(curve);
  const handles = [...curve.querySelectorAll(".handle")];
  const at = handles.map((one) => Number(one.dataset.at));
  const line = curve.querySelector(".bridged");
  line.home ??= line.getAttribute("points").split(" ").map((pair) => pair.split(",").map(Number));
  const moved = line.home.map(([x, y], i) => {
    let after = at.findIndex((one) => one >= i);
    if (after < 1) after = 1;
    const [low, high] = [at[after - 1], at[after]];
    const share = Math.min(1, Math.max(0, (i - low) / Math.max(1, high - low)));
    const [a, b] = [shifts[low] ?? [0, 0], shifts[high] ?? [0, 0]];
    return `${x + a[0] * (1 - share) + b[0] * share},${y + a[1] * (1 - share) + b[1] * share}`;
  });
  line.setAttribute("points", moved.join(" "));
  line.classList.add("moved");
  for (const stroke of curve.querySelectorAll(".written")) stroke.remove();
  document.querySelector(`[name="moved-${curve.dataset.curve}"]`).value = JSON.stringify(shifts);
}

function at(handle) {
  const by = shiftsOf(curveOf(handle))[handle.dataset.at] ?? [0, 0];
  return homeOf(handle).map((one, axis) => one + by[axis]);
}

function put(handle, place) {
  const curve = curveOf(handle);
  const home = homeOf(handle);
  const by = place.map((one, axis) => Math.round((one - home[axis]) * 10) / 10);
  shiftsOf(curve)[handle.dataset.at] = by;
  handle.setAttribute("transform", `translate(${place[0]} ${place[1]})`);
  redraw(curve);
  sayMoved({ right: by[0].toFixed(0), down: by[1].toFixed(0) });
}

if (svg) takeHandles(svg, { at, put });
