// Entries by their names become what was read: sections, topline, marks, stance.
import { told } from "../../../base/script/parts/told.js";
import { isNumber, leftPins, middlePin, rightPins } from "./sections.js";

const PLANNED = /^s(\d{1,3})r(\d{1,2})\/(?:distance|planned)$/;

export const numberOf = (values, name) => (isNumber(values[name]) ? values[name] : null);

export function plannedSections(values) {
  const ids = new Map();
  for (const name of Object.keys(values)) {
    const match = PLANNED.exec(name);
    if (match) ids.set(`s${match[1]}r${match[2]}`, [Number(match[1]), Number(match[2]), match[1], match[2]]);
  }
  const places = new Map();
  for (const [station, repeat, text] of ids.values()) {
    const distance = values[`s${text}r0/distance`];
    if (repeat === 0 && isNumber(distance)) places.set(station, distance);
  }
  const order = [...places.keys()].sort((a, b) => places.get(a) - places.get(b) || a - b);
  const ranks = new Map(order.map((station, i) => [station, i + 1]));
  return [...ids.values()]
    .filter(([station]) => ranks.has(station))
    .map(([station, repeat]) => ({ key: `s${station}r${repeat}`, number: ranks.get(station), repeat, distance: places.get(station) }))
    .sort((a, b) => a.repeat - b.repeat || a.number - b.number);
}

export function placeWords(distance) {
  if (Math.abs(distance) < 0.5) return told("at the shoulder mark");
  const number = Number(Math.abs(distance).toPrecision(6));
  return distance > 0 ? told("{number} mm behind the shoulder mark", { number }) : told("{number} mm in front of the shoulder mark", { number });
}

function trimmed(readings) {
  let last = readings.length;
  while (last && readings[last - 1] === null) last -= 1;
  return readings.slice(0, last);
}

function lastOf(values, before) {
  let last = 0;
  for (const name of Object.keys(values)) {
    if (!name.startsWith(`${before}/`)) continue;
    const rest = name.slice(before.length + 1);
    if (/^\d{1,4}$/.test(rest)) last = Math.max(last, Number(rest));
  }
  return Math.min(last, 1000);
}

function joints(values, before) {
  return trimmed(Array.from({ length: lastOf(values, before) }, (_, j) => numberOf(values, `${before}/${j + 1}`)));
}

function points(values, before) {
  let last = 0;
  for (const name of Object.keys(values)) {
    const match = name.startsWith(`${before}/`) && /^(\d{1,3})\b/.exec(name.slice(before.length + 1));
    if (match) last = Math.max(last, Number(match[1]));
  }
  const found = [];
  for (let i = 1; i <= last; i += 1) {
    const [out, down] = [numberOf(values, `${before}/${i}/out`), numberOf(values, `${before}/${i}/down`)];
    if (out !== null && down !== null) found.push([out, 0 - down]);
  }
  return found;
}

export function sectionOf(geometry, planned, values) {
  const { key } = planned;
  const base = { number: planned.number, distance: planned.distance, repeat: planned.repeat, tilt: numberOf(values, `${key}/tilt`) || 0 };
  if (geometry.family === "tracing") {
    const [left, right] = [points(values, `${key}/near`), points(values, `${key}/off`)];
    return left.length || right.length ? { ...base, left, right, middle: null } : null;
  }
  let [left, right, middle] = [[], [], null];
  if (geometry.family === "comb") {
    const read = (pins) => trimmed(pins.map((pin) => numberOf(values, `${key}/pin/${pin}`)));
    left = read(leftPins(geometry));
    right = read(rightPins(geometry));
    const pin = middlePin(geometry);
    middle = pin === null ? null : numberOf(values, `${key}/pin/${pin}`);
  } else {
    left = joints(values, `${key}/near`);
    right = joints(values, `${key}/off`);
  }
  const n = geometry.family === "tape" ? geometry.width_depths_mm.length : 0;
  const widths = trimmed(Array.from({ length: n }, (_, k) => numberOf(values, `${key}/width/${k + 1}`)));
  const isBlank = [...left, middle, ...right, ...widths].every((one) => one === null);
  return isBlank ? null : { ...base, left, right, middle, widths };
}

export function sectionsOf(geometry, values) {
  return plannedSections(values).map((one) => sectionOf(geometry, one, values)).filter(Boolean);
}

export function toplineOf(geometry, values) {
  if (values["top/how"] === "chain" && geometry.topline) {
    const [start, level, read] = [numberOf(values, "top/start"), numberOf(values, "top/level"), joints(values, "top/joint")];
    return start === null || level === null || !read.length ? null : { start, level, joints: read };
  }
  const rows = Object.keys(values).filter((name) => name.startsWith("top/") && name.endsWith("/height"));
  const known = rows
    .map((name) => name.split("/")[1])
    .map((row) => [numberOf(values, `top/${row}/distance`), numberOf(values, `top/${row}/height`)])
    .filter(([s, z]) => s !== null && z !== null)
    .sort((a, b) => a[0] - b[0] || a[1] - b[1]);
  return known.length ? { heights: known } : null;
}

export function recordOf(geometry, values) {
  return {
    geometry,
    sections: sectionsOf(geometry, values),
    topline: toplineOf(geometry, values),
    pitch: numberOf(values, "stance/pitch") || 0,
    roll: numberOf(values, "stance/roll") || 0,
    mark: (name) => numberOf(values, `mark/${name}`),
  };
}
