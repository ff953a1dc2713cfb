// Sections drawn as they are read, on the phone itself.
import { told } from "../../../base/script/parts/told.js";
import { halvesOf } from "./sections.js";
import { plannedSections, sectionOf } from "./readings.js";

const NS = "http://www.w3.org/2000/svg";
const WIDE = 520;
const HIGH = 300;
const MARGIN = 22;

function node(name, attributes, words) {
  const made = document.createElementNS(NS, name);
  for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
  if (words) made.textContent = words;
  return made;
}

export function emptyPicture(words) {
  const svg = node("svg", { viewBox: `0 0 ${WIDE} ${HIGH}`, class: "drawn", role: "img", "aria-label": words });
  return svg;
}

// Draws one section over those read before; `now` is its key. Near is on the left, as one stands behind the horse.
export function drawSections(svg, geometry, values, now) {
  const drawn = plannedSections(values)
    .map((one) => ({ one, section: sectionOf(geometry, one, values) }))
    .filter(({ section }) => section)
    .map(({ one, section }) => ({ one, halves: halvesOf(geometry, section) }));
  const all = drawn.flatMap(({ halves }) => [...halves.left, ...halves.right]);
  const reach = Math.max(120, ...all.map(([x]) => x));
  const low = Math.min(-60, ...all.map(([, z]) => z));
  const high = Math.max(20, ...all.map(([, z]) => z));
  const scale = Math.min((WIDE / 2 - MARGIN) / reach, (HIGH - 2 * MARGIN) / (high - low));
  const at = (x, z) => `${(WIDE / 2 + x * scale).toFixed(1)} ${(MARGIN + (high - z) * scale).toFixed(1)}`;
  const mine = drawn.find(({ one }) => one.key === now);
  const content = [node("path", { class: "midline", d: `M${at(0, high)}L${at(0, low)}` })];
  for (const { one, halves } of drawn) {
    if (one.key === now) continue;
    const sameAgain = mine && one.number === mine.one.number;
    content.push(node("path", { class: sameAgain ? "first-time" : now ? "neighbour" : "curve", d: pathOf(halves, at) }));
  }
  if (mine) {
    content.push(node("path", { class: "curve now", d: pathOf(mine.halves, at) }));
    for (const [side, sign] of [["left", -1], ["right", 1]]) {
      for (const [x, z] of mine.halves[side].slice(1)) {
        const [cx, cy] = at(sign * x, z).split(" ");
        content.push(node("circle", { class: "point", cx, cy, r: 5 }));
      }
    }
  }
  content.push(node("text", { class: "side-word", x: 8, y: HIGH - 8 }, told("NEAR")));
  content.push(node("text", { class: "side-word", x: WIDE - 8, y: HIGH - 8, "text-anchor": "end" }, told("OFF")));
  svg.replaceChildren(...content);
  return drawn.length;
}

function pathOf({ left, right }, at) {
  const across = [...left.slice(1).reverse().map(([x, z]) => [-x, z]), ...right];
  return `M${across.map(([x, z]) => at(x, z)).join("L")}`;
}
