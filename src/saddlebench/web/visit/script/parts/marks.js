// Marks set by touching the outline; the form beside it does the same by keyboard.
import { newKey } from "./outbox.js";

function itemOf(form, more) {
  const pairs = [...new FormData(form).entries()].filter(([name]) => name !== "csrfmiddlewaretoken" && name !== "key");
  const part = form.closest("[data-marks]");
  const kept = more ? pairs.filter(([name]) => name !== "place") : pairs;
  return {
    url: form.getAttribute("action"),
    pairs: [...kept, ...(more ?? []), ["key", newKey()]],
    target: `#${part.id}`,
    words: part.querySelector("h2").textContent,
    step: location.pathname,
  };
}

function showAt(outline, x, y) {
  const dot = document.createElementNS("http://www.w3.org/2000/svg", "circle");
  const box = outline.viewBox.baseVal;
  dot.setAttribute("cx", x * box.width);
  dot.setAttribute("cy", y * box.height);
  dot.setAttribute("r", 13);
  const group = document.createElementNS("http://www.w3.org/2000/svg", "g");
  group.setAttribute("class", "mark");
  group.append(dot);
  outline.append(group);
}

export function startMarks(outbox) {
  document.addEventListener("click", (event) => {
    const outline = event.target.closest?.("svg[data-outline]");
    if (!outline) return;
    const box = outline.getBoundingClientRect();
    const x = (event.clientX - box.left) / box.width;
    const y = (event.clientY - box.top) / box.height;
    showAt(outline, x, y);
    const form = outline.closest("[data-marks]").querySelector(".mark-form");
    outbox.put(itemOf(form, [["x", x.toFixed(4)], ["y", y.toFixed(4)]]));
  });
  document.addEventListener("submit", (event) => {
    if (!event.target.matches("[data-marks] form")) return;
    event.preventDefault();
    outbox.put(itemOf(event.target));
  });
}
