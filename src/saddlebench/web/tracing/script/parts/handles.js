// Places on a photo that are taken by finger or mouse, or moved by the arrow keys; a glass shows what the thumb hides.
const STEP = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };
const FAR = 10;
const GLASS_PX = 150;
const LARGER = 2;
const ABOVE_PX = 60;
const SVG = "http://www.w3.org/2000/svg";

function make(name, given) {
  const one = document.createElementNS(SVG, name);
  for (const [key, value] of Object.entries(given)) one.setAttribute(key, value);
  return one;
}

// A round glass over the page, with the photo and its lines twice as large, and a cross where the place stands.
function glassOver(svg) {
  const inner = make("svg", { width: GLASS_PX, height: GLASS_PX, "aria-hidden": "true" });
  const cross = make("path", { class: "cross", "vector-effect": "non-scaling-stroke" });
  inner.append(make("use", { href: `#${svg.querySelector("[data-shown]").id}` }), cross);
  const glass = document.createElement("div");
  glass.className = "glass";
  glass.hidden = true;
  glass.append(inner);
  document.body.append(glass);
  return {
    show([x, y], finger) {
      const wide = GLASS_PX / LARGER / svg.getScreenCTM().a;
      inner.setAttribute("viewBox", `${x - wide / 2} ${y - wide / 2} ${wide} ${wide}`);
      const [arm, free] = [wide / 6, wide / 40];
      cross.setAttribute("d", `M${x - arm} ${y}H${x - free}M${x + free} ${y}H${x + arm}M${x} ${y - arm}V${y - free}M${x} ${y + free}V${y + arm}`);
      const above = finger.clientY - GLASS_PX - ABOVE_PX;
      const aside = finger.clientX < innerWidth / 2 ? finger.clientX + ABOVE_PX : finger.clientX - ABOVE_PX - GLASS_PX;
      const left = above < 0 ? aside : finger.clientX - GLASS_PX / 2;
      glass.style.left = `${Math.max(0, Math.min(innerWidth - GLASS_PX, left))}px`;
      glass.style.top = `${Math.max(0, above)}px`;
      glass.hidden = false;
    },
    hide() {
      glass.hidden = true;
    },
  };
}

// A photo larger than its frame opens where the middle handle is, not at the table's upper left corner.
function openAtHandles(svg) {
  const frame = svg.closest(".pan");
  const shown = [...svg.querySelectorAll(".handle:not(.unused) .dot")];
  if (!frame || !shown.length) return;
  const [box, middle] = [frame.getBoundingClientRect(), shown[shown.length >> 1].getBoundingClientRect()];
  frame.scrollLeft += middle.x - box.x - box.width / 2;
  frame.scrollTop += middle.y - box.y - box.height / 2;
}

// Says a move in the reader's language: the page gives the sentence, its places are filled in.
export function sayMoved(values) {
  const line = document.querySelector("[data-moved-said]");
  line.textContent = line.dataset.movedSaid.replace(/\{(\w+)\}/g, (_, name) => values[name]);
}

// `at` tells where a handle stands, [x, y] in dots of the photo; `put` moves it; what is put can be undone one by one.
export function takeHandles(svg, { at, put }) {
  const glass = glassOver(svg);
  const undo = document.querySelector("[data-undo-move]");
  const before = [];
  let held = null;
  const placeOf = (event) => new DOMPoint(event.clientX, event.clientY).matrixTransform(svg.getScreenCTM().inverse());
  const remember = (handle, place) => {
    before.push([handle, place]);
    undo.disabled = false;
  };

  // Parts of an SVG have no `touch-action` of their own: without this the frame is panned, and the handle let go.
  svg.addEventListener("touchstart", (event) => { if (event.target.closest(".handle")) event.preventDefault(); }, { passive: false });
  svg.addEventListener("pointerdown", (event) => {
    const handle = event.target.closest(".handle");
    if (!handle || held) return;
    event.preventDefault();
    handle.focus({ preventScroll: true });
    const start = placeOf(event);
    const from = at(handle);
    held = { handle, from, by: [from[0] - start.x, from[1] - start.y], pointer: event.pointerId, moved: false };
    svg.setPointerCapture(event.pointerId);
    glass.show(from, event);
  });
  svg.addEventListener("pointermove", (event) => {
    if (held?.pointer !== event.pointerId) return;
    const place = placeOf(event);
    if (!held.moved) remember(held.handle, held.from);
    held.moved = true;
    put(held.handle, [place.x + held.by[0], place.y + held.by[1]]);
    glass.show(at(held.handle), event);
  });
  for (const end of ["pointerup", "pointercancel"]) {
    svg.addEventListener(end, (event) => {
      if (held?.pointer !== event.pointerId) return;
      held = null;
      glass.hide();
    });
  }
  svg.addEventListener("keydown", (event) => {
    const handle = event.target.closest(".handle");
    const step = STEP[event.key];
    if (!handle || !step) return;
    event.preventDefault();
    const from = at(handle);
    const far = event.shiftKey ? FAR : 1;
    remember(handle, from);
    put(handle, [from[0] + step[0] * far, from[1] + step[1] * far]);
  });
  undo.addEventListener("click", () => {
    const [handle, place] = before.pop();
    put(handle, place);
    undo.disabled = before.length === 0;
  });
  undo.hidden = false;
  openAtHandles(svg);
}
