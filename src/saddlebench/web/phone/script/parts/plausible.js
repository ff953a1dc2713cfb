// What can be said against readings before they become points: absent, off the scale, impossible.
import { told } from "../../../base/script/parts/told.js";
import { general as g, fixed } from "./numbers.js";
import { leftPins, pinsOf, referenceWeights, rightPins } from "./sections.js";

const CHECK_UNIT = () => told("Check the number and its unit (mm, not inches or centimetres), and type it again.");
const blank = (list) => list.every((one) => one === null);

export function problem(what, cure, where = {}, weight = "error") {
  return { what, cure, station: where.station ?? null, side: where.side || "", field: where.field || "", weight };
}

const within = (value, low, high) => Number.isFinite(value) && value >= low && value <= high;

export function readingsProblems(record, limits) {
  const { geometry, sections } = record;
  const found = [...toplineProblems(record, limits), ...orderProblems(sections, limits)];
  const ofFamily = { chain: chainProblems, comb: combProblems, tracing: outlineProblems, tape: tapeProblems }[geometry.family];
  for (const section of sections) found.push(...placeProblems(section, limits), ...ofFamily(geometry, section, limits));
  return found;
}

function placeProblems({ number, distance, tilt }, limits) {
  const found = [];
  if (!within(distance, -limits.furthest_in_front_mm, limits.furthest_behind_mm)) {
    found.push(problem(told("A distance of {number} mm behind the shoulder mark lies on no back", { number: g(distance) }), CHECK_UNIT(), { station: number, field: "distance" }));
  }
  if (!within(tilt, -45, 45)) {
    found.push(problem(told("A tilt of {number}° is no tilt an instrument is held at", { number: g(tilt) }), told("Read the level again."), { station: number, field: "tilt" }));
  }
  return found;
}

function offScale(scale, reading, where, what) {
  if (reading === null || reading === undefined) return [];
  const slack = 1e-9 * Math.max(1, Math.abs(scale.highest - scale.lowest));
  if (within(reading, scale.lowest - slack, scale.highest + slack)) return [];
  const given = { words: what, number: g(reading), number2: g(scale.lowest), number3: g(scale.highest) };
  return [
    problem(told("{words} reads {number}, beyond the range of {number2} to {number3}", given), told("Read it again, or correct the instrument's range."), where),
  ];
}

function tooMany(n, most, parts, where) {
  if (n <= most) return [];
  return [problem(told("There are readings of {number} {words}, but the instrument has {number2}", { number: n, words: parts, number2: most }), told("Choose the instrument that was used, or remove the extra readings."), where)];
}

function gap(joints, where) {
  const at = joints.findIndex((one, j) => one === null && joints.slice(j + 1).some((later) => later !== null));
  if (at < 0) return [];
  const j = at + 1;
  const place = { ...where, field: `joint ${j}` };
  return [problem(told("Joint {number} was not read, so everything beyond it is lost", { number: j }), told("Read joint {number} of this station again.", { number: j }), place, "warning")];
}

function nothingRead(values, number, side) {
  if (!blank(values)) return [];
  const [what, cure] =
    side === "left"
      ? [told("The left (near) side was not read"), told("Measure the left side of station {number}.", { number })]
      : [told("The right (off) side was not read"), told("Measure the right side of station {number}.", { number })];
  return [problem(what, cure, { station: number, side }, "warning")];
}

function chainProblems(chain, section) {
  const found = [];
  for (const side of ["left", "right"]) {
    const [arm, joints, where] = [chain[side], section[side], { station: section.number, side }];
    found.push(...tooMany(joints.length, arm.link_mm.length, told("joints"), where));
    joints.forEach((one, j) => found.push(...offScale(arm.scale, one, { ...where, field: `joint ${j + 1}` }, told("Joint {number}", { number: j + 1 }))));
    found.push(...gap(joints, where), ...nothingRead(joints, section.number, side));
  }
  return found;
}

function combProblems(comb, section) {
  const found = [];
  const station = section.number;
  for (const [side, pins] of [["left", leftPins(comb)], ["right", rightPins(comb)]]) {
    found.push(...tooMany(section[side].length, pins.length, told("pins"), { station, side }));
    pins.slice(0, section[side].length).forEach((pin, i) =>
      found.push(...offScale(comb.scale, section[side][i], { station, side, field: `pin ${pin}` }, told("Pin {number}", { number: pin }))),
    );
    found.push(...nothingRead(section[side], station, side));
  }
  found.push(...offScale(comb.scale, section.middle, { station, field: "middle pin" }, told("The middle pin")));
  const read = pinsOf(comb, section);
  const missing = [...referenceWeights(comb).keys()].filter((pin) => !read.has(pin));
  if (missing.length) {
    found.push(
      problem(
        told("Pin {words} at the midline was not read, and the comb takes its height from it", { words: missing.join(", ") }),
        told("Read the pins at the midline; without them this section has no height."),
        { station, field: `pin ${missing[0]}` },
        "warning",
      ),
    );
  }
  return found;
}

function tapeProblems(tape, section) {
  const station = section.number;
  const { widths } = section;
  const found = tooMany(widths.length, tape.width_depths_mm.length, told("widths"), { station });
  widths.forEach((one, k) => found.push(...offScale(tape.width, one, { station, field: `width ${k + 1}` }, told("Width {number}", { number: k + 1 }))));
  for (const side of ["left", "right"]) {
    const angles = section[side];
    found.push(...tooMany(angles.length, 1, told("angles on this side"), { station, side }));
    if (!angles.length) continue;
    const where = { station, side, field: "angle" };
    found.push(...offScale(tape.angle, angles[0], where, told("The angle")));
    if (angles[0] !== null && (widths[0] ?? null) === null) {
      found.push(problem(told("The angle has no place: the first width was not taken"), told("Take the first width; the card hangs down from there."), where, "warning"));
    }
  }
  if (blank(widths)) found.push(problem(told("No width was taken"), told("Take the widths at station {number}.", { number: station }), { station, field: "width 1" }, "warning"));
  const known = widths.map((one, k) => [k + 1, one]).filter(([, one]) => one !== null);
  known.slice(1).forEach(([j, lower], i) => {
    const [above, upper] = known[i];
    if (lower >= upper) return;
    found.push(
      problem(
        told("Width {number} is less than width {number2} above it ({number3} and {number4}): swapped?", { number: j, number2: above, number3: g(lower), number4: g(upper) }),
        told("No back narrows downwards so high up; take both again."),
        { station, field: `width ${j}` },
        "warning",
      ),
    );
  });
  return found;
}

function outlineProblems(curve, section, limits) {
  const found = [];
  const scale = curve.mm_per_unit;
  for (const side of ["left", "right"]) {
    section[side].forEach(([out, up], i) => {
      const where = { station: section.number, side, field: `point ${i + 1}` };
      const fits = [out, up].every((one) => within(one * scale, -limits.widest_mm - limits.topline_rise_mm, limits.widest_mm));
      if (!fits) found.push(problem(told("Point {number} at ({number2}, {number3}) lies beyond any horse", { number: i + 1, number2: g(out), number3: g(up) }), CHECK_UNIT(), where));
      else if (out < 0) {
        found.push(problem(told("Point {number} lies on the other side of the midline ({number2})", { number: i + 1, number2: g(out) }), told("Distances count outward from the midline on both sides; check the side."), where));
      }
    });
    found.push(...nothingRead(section[side], section.number, side));
  }
  return found;
}

function orderProblems(sections, limits) {
  if (!sections.length) return [problem(told("There is no station at all"), told("Measure at least three sections of the back."))];
  const first = sections.filter((one) => one.repeat === 0).sort((a, b) => a.number - b.number);
  const found = [];
  if (new Set(first.map((one) => one.distance)).size === 1) {
    found.push(problem(told("There is one station only"), told("Measure at least three: behind the shoulder, at the lowest point, at the last rib."), { station: first[0].number }));
  }
  found.push(...neighbours(first, limits), ...repeats(sections, first));
  const sides = [
    ["left", told("The left (near) side was not read at any station"), told("Measure the left side too: half a back is not mirrored into a whole one.")],
    ["right", told("The right (off) side was not read at any station"), told("Measure the right side too: half a back is not mirrored into a whole one.")],
  ];
  for (const [side, what, cure] of sides) {
    if (first.every((one) => blank(one[side]) && blank(one.widths || []))) {
      found.push(problem(what, cure, { side }));
    }
  }
  return found;
}

function neighbours(first, limits) {
  const byPlace = [...first].sort((a, b) => a.distance - b.distance);
  const gaps = byPlace.slice(1).map((one, i) => one.distance - byPlace[i].distance);
  const widest = Math.max(...gaps, 0);
  if (gaps.length && widest > 0 && widest < limits.closest_stations_mm) {
    return [
      problem(told("The stations are at most {number} mm apart", { number: g(widest) }), told("Were the distances written in inches or centimetres? State the unit; it is not guessed."), { field: "distance" }),
    ];
  }
  const found = [];
  byPlace.slice(1).forEach((other, i) => {
    const one = byPlace[i];
    if (other.distance - one.distance < limits.same_place_mm && one.number !== other.number) {
      found.push(
        problem(
          told("Stations {number} and {number2} are at the same place", { number: one.number, number2: other.number }),
          told("Correct a distance; if it is one section measured twice, mark the second as a repeat."),
          { station: other.number, field: "distance" },
        ),
      );
    }
  });
  return found;
}

function repeats(sections, first) {
  return sections
    .filter((one) => one.repeat > 0 && !first.some((other) => other.number === one.number))
    .map((one) =>
      problem(told("Station {number} was measured again, but never a first time", { number: one.number }), told("Correct the station's number, or its repeat to 0."), { station: one.number, field: "repeat" }),
    );
}

function toplineProblems(record, limits) {
  const { topline, geometry } = record;
  const where = { field: "topline" };
  if (!topline) return [problem(told("The topline was not measured, so the sections have no height"), told("Measure the height of the midline at every station."), where)];
  if (topline.heights) return heightProblems(topline.heights, record.sections, limits);
  const arm = geometry.topline.arm;
  const found = [...tooMany(topline.joints.length, arm.link_mm.length - 1, told("topline joints"), where), ...gap(topline.joints, where)];
  topline.joints.forEach((one, j) => found.push(...offScale(arm.scale, one, { field: `topline joint ${j + 1}` }, told("Topline joint {number}", { number: j + 1 }))));
  if (!within(topline.level, -60, 60)) found.push(problem(told("The topline's first link at {number}° lies on no back", { number: g(topline.level) }), told("Read the level again."), where));
  return found;
}

function heightProblems(heights, sections, limits) {
  const where = { field: "topline" };
  const bad = heights.filter(([s, z]) => !within(s, -limits.furthest_in_front_mm, limits.furthest_behind_mm) || !within(z, -2500, 2500));
  if (bad.length) return bad.map(([s, z]) => problem(told("The topline at {number} mm with a height of {number2} mm lies on no horse", { number: g(s), number2: g(z) }), CHECK_UNIT(), where));
  const all = heights.map(([, z]) => z);
  const rise = Math.max(...all) - Math.min(...all);
  const found = rise > limits.topline_rise_mm ? [problem(told("The topline's heights differ by {number} mm", { number: fixed(rise, 0) }), CHECK_UNIT(), where)] : [];
  return [...found, ...uncovered(heights.map(([s]) => s), sections, limits)];
}

export function uncovered(places, sections, limits) {
  if (!places.length) return [];
  const [first, last] = [Math.min(...places) - limits.same_place_mm, Math.max(...places) + limits.same_place_mm];
  const found = [];
  if (first > 0 || last < 0) {
    found.push(
      problem(told("The topline was not measured at the shoulder mark, where heights are counted from"), told("Measure a height in front of the shoulder mark (or on it) and one behind it."), { field: "topline" }),
    );
  }
  for (const one of sections) {
    if (one.distance >= first && one.distance <= last) continue;
    found.push(
      problem(told("The topline was not measured at {number} mm", { number: g(one.distance) }), told("Measure the height of the midline there: without it this section has no height."), { station: one.number, field: "topline" }),
    );
  }
  return found;
}


