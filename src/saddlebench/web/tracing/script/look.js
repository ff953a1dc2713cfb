// Handles on a curve over its photo: dragged by touch or mouse, or moved by the arrow keys. The form holds the moves.
const STEP = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };
const svg = document.querySelector("svg[data-over]");
const moves = new Map();
let held = null;

const curveOf = (handle) => handle.closest("[data-curve]");
const placeOf = (event) => new DOMPoint(event.clientX, event.clientY).matrixTransform(svg.getScreenCTM().inverse());

function placesOf(handle) {
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

function shift(handle, by) {
  const curve = curveOf(handle);
  const [x, y] = placesOf(handle);
  shiftsOf(curve)[handle.dataset.at] = by.map((one) => Math.round(one * 10) / 10);
  handle.setAttribute("transform", `translate(${x + by[0]} ${y + by[1]})`);
  redraw(curve);
  document.querySelector("[data-moved-said]").textContent = `Moved ${by[0].toFixed(0)} to the right and ${by[1].toFixed(0)} down, in dots of the photo.`;
}

if (svg) {
  svg.addEventListener("pointerdown", (event) => {
    const handle = event.target.closest(".handle");
    if (!handle) return;
    event.preventDefault();
    handle.focus();
    const start = placeOf(event);
    held = { handle, start, from: shiftsOf(curveOf(handle))[handle.dataset.at] ?? [0, 0] };
    svg.setPointerCapture(event.pointerId);
  });
  svg.addEventListener("pointermove", (event) => {
    if (!held) return;
    const place = placeOf(event);
    shift(held.handle, [held.from[0] + place.x - held.start.x, held.from[1] + place.y - held.start.y]);
  });
  for (const end of ["pointerup", "pointercancel"]) svg.addEventListener(end, () => { held = null; });
  svg.addEventListener("keydown", (event) => {
    const handle = event.target.closest(".handle");
    const step = STEP[event.key];
    if (!handle || !step) return;
    event.preventDefault();
    const far = event.shiftKey ? 8 : 1;
    const from = shiftsOf(curveOf(handle))[handle.dataset.at] ?? [0, 0];
    shift(handle, [from[0] + step[0] * far, from[1] + step[1] * far]);
  });
}
