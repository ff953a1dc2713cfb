// What is asked while a back is measured, part by part, from what the instrument brought along.
import { told } from "../../../base/script/parts/told.js";
import { placeWords, plannedSections } from "./readings.js";

const POINTS_PLANNED = 10;
const MOST_POINTS = 60;
const MOST_SECTIONS = 40;

// Returns parts: {key, words, detail, isSection, number, repeat, asked: [{name, words, kind, side, unit, low, high, hint, on_pad}]}.
export function partsOf(instrument, values) {
  const given = Object.fromEntries(instrument.parts.map((one) => [one.key, one]));
  return [
    given.marks,
    given.stance,
    values["top/how"] === "chain" && instrument.topline_chain ? instrument.topline_chain : heights(values),
    ...plannedSections(values).map((one) => section(instrument, given.s1r0, one, values)),
    given.after,
  ];
}

function heights(values) {
  const rows = new Set();
  for (const name of Object.keys(values)) {
    const match = /^top\/(\d{1,3})\/distance$/.exec(name);
    if (match && typeof values[name] === "number") rows.add(Number(match[1]));
  }
  const asked = [...rows]
    .sort((a, b) => values[`top/${a}/distance`] - values[`top/${b}/distance`])
    .map((row) => ({
      name: `top/${row}/height`,
      words: told("Height {words}", { words: placeWords(values[`top/${row}/distance`]) }),
      kind: "number",
      side: "",
      unit: "mm",
      low: -2500,
      high: 2500,
      hint: told("Above the floor, or above any line parallel to it."),
      on_pad: true,
    }));
  return { key: "topline", words: told("Topline"), detail: told("Height of the midline at each place."), asked };
}

function section(instrument, pattern, planned, values) {
  const renamed = (one) => ({ ...one, name: one.name.replace(/^s1r0\//, `${planned.key}/`) });
  const asked = instrument.geometry.family === "tracing" ? points(pattern, planned.key, values) : pattern.asked;
  return {
    key: planned.key,
    words: sectionWords(planned),
    detail: placeWords(planned.distance),
    isSection: true,
    number: planned.number,
    repeat: planned.repeat,
    asked: asked.map(renamed),
  };
}

function sectionWords({ number, repeat }) {
  if (!repeat) return told("Section {number}", { number });
  return repeat === 1 ? told("Section {number} again", { number }) : told("Section {number}, time {number2}", { number, number2: repeat + 1 });
}

const POINT_WORDS = { out: (number) => told("Point {number}: out", { number }), down: (number) => told("Point {number}: down", { number }) };

function points(pattern, key, values) {
  const more = pattern.asked.filter((one) => !one.side);
  const made = [];
  for (const side of ["near", "off"]) {
    let held = 0;
    for (const name of Object.keys(values)) {
      const match = name.startsWith(`${key}/${side}/`) && /^(\d{1,3})\//.exec(name.slice(key.length + side.length + 2));
      if (match) held = Math.max(held, Number(match[1]));
    }
    const n = Math.min(Math.max(POINTS_PLANNED, held + 2), MOST_POINTS);
    for (let i = 1; i <= n; i += 1) {
      for (const what of ["out", "down"]) {
        const like = pattern.asked.find((one) => one.name === `s1r0/${side}/1/${what}`);
        made.push({ ...like, name: `s1r0/${side}/${i}/${what}`, words: POINT_WORDS[what](i) });
      }
    }
  }
  return [...made, ...more];
}

export function stateOf(part, values) {
  const read = part.asked.filter((one) => one.on_pad);
  const filled = read.filter((one) => values[one.name] !== undefined).length;
  if (filled && (filled === read.length || values[`${part.key}/done`] === true)) return ["✓", told("done"), filled, read.length];
  return filled ? ["≈", told("partly"), filled, read.length] : ["○", told("to do"), filled, read.length];
}

// The readings that plan a measuring: where the sections lie, the first of them again last, and the topline's places.
export function planOf({ first, spacing, count, how }) {
  const places = Array.from({ length: count }, (_, i) => first + i * spacing);
  const values = {};
  places.forEach((s, i) => {
    values[`s${i + 1}r0/distance`] = s;
  });
  values["s1r1/planned"] = true;
  values["top/how"] = how;
  if (how === "heights") {
    const known = [...new Set([...places, 0])].sort((a, b) => a - b);
    known.forEach((s, i) => {
      values[`top/${i + 1}/distance`] = s;
    });
  }
  return values;
}

export function planProblem({ first, spacing, count }) {
  const rules = [[told("First section"), first, -400, 600], [told("Apart"), spacing, 15, 300], [told("Sections"), count, 1, MOST_SECTIONS]];
  for (const [words, value, low, high] of rules) {
    if (value >= low && value <= high) continue;
    return told("{words}: {number} is outside {number2} to {number3}. Check the number and its unit.", { words, number: value, number2: low, number3: high });
  }
  return Number.isInteger(count) ? "" : told("Sections: this is a whole number.");
}
