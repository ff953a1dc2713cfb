// What can be said against readings before they become points: absent, off the scale, impossible.
import { general as g, fixed } from "./numbers.js";
import { leftPins, pinsOf, referenceWeights, rightPins } from "./sections.js";

const CHECK_UNIT = "Check the number and its unit (mm, not inches or centimetres), and type it again.";
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
    found.push(problem(`A distance of ${g(distance)} mm behind the shoulder mark lies on no back`, CHECK_UNIT, { station: number, field: "distance" }));
  }
  if (!within(tilt, -45, 45)) {
    found.push(problem(`A tilt of ${g(tilt)}° is no tilt an instrument is held at`, "Read the level again.", { station: number, field: "tilt" }));
  }
  return found;
}

function offScale(scale, reading, where, what) {
  if (reading === null || reading === undefined) return [];
  const slack = 1e-9 * Math.max(1, Math.abs(scale.highest - scale.lowest));
  if (within(reading, scale.lowest - slack, scale.highest + slack)) return [];
  return [
    problem(`${what} reads ${g(reading)}, beyond the range of ${g(scale.lowest)} to ${g(scale.highest)}`, "Read it again, or correct the instrument's range.", where),
  ];
}

function tooMany(n, most, parts, where) {
  if (n <= most) return [];
  return [problem(`There are readings of ${n} ${parts}, but the instrument has ${most}`, "Choose the instrument that was used, or remove the extra readings.", where)];
}

function gap(joints, where) {
  const at = joints.findIndex((one, j) => one === null && joints.slice(j + 1).some((later) => later !== null));
  if (at < 0) return [];
  const j = at + 1;
  const place = { ...where, field: `joint ${j}` };
  return [problem(`Joint ${j} was not read, so everything beyond it is lost`, `Read joint ${j} of this station again.`, place, "warning")];
}

function nothingRead(values, number, side) {
  if (!blank(values)) return [];
  const words = side === "left" ? "near" : "off";
  return [problem(`The ${side} (${words}) side was not read`, `Measure the ${side} side of station ${number}.`, { station: number, side }, "warning")];
}

function chainProblems(chain, section) {
  const found = [];
  for (const side of ["left", "right"]) {
    const [arm, joints, where] = [chain[side], section[side], { station: section.number, side }];
    found.push(...tooMany(joints.length, arm.link_mm.length, "joints", where));
    joints.forEach((one, j) => found.push(...offScale(arm.scale, one, { ...where, field: `joint ${j + 1}` }, `Joint ${j + 1}`)));
    found.push(...gap(joints, where), ...nothingRead(joints, section.number, side));
  }
  return found;
}

function combProblems(comb, section) {
  const found = [];
  const station = section.number;
  for (const [side, pins] of [["left", leftPins(comb)], ["right", rightPins(comb)]]) {
    found.push(...tooMany(section[side].length, pins.length, "pins", { station, side }));
    pins.slice(0, section[side].length).forEach((pin, i) =>
      found.push(...offScale(comb.scale, section[side][i], { station, side, field: `pin ${pin}` }, `Pin ${pin}`)),
    );
    found.push(...nothingRead(section[side], station, side));
  }
  found.push(...offScale(comb.scale, section.middle, { station, field: "middle pin" }, "The middle pin"));
  const read = pinsOf(comb, section);
  const missing = [...referenceWeights(comb).keys()].filter((pin) => !read.has(pin));
  if (missing.length) {
    found.push(
      problem(
        `Pin ${missing.join(", ")} at the midline was not read, and the comb takes its height from it`,
        "Read the pins at the midline; without them this section has no height.",
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
  const found = tooMany(widths.length, tape.width_depths_mm.length, "widths", { station });
  widths.forEach((one, k) => found.push(...offScale(tape.width, one, { station, field: `width ${k + 1}` }, `Width ${k + 1}`)));
  for (const side of ["left", "right"]) {
    const angles = section[side];
    found.push(...tooMany(angles.length, 1, "angles on this side", { station, side }));
    if (!angles.length) continue;
    const where = { station, side, field: "angle" };
    found.push(...offScale(tape.angle, angles[0], where, "The angle"));
    if (angles[0] !== null && (widths[0] ?? null) === null) {
      found.push(problem("The angle has no place: the first width was not taken", "Take the first width; the card hangs down from there.", where, "warning"));
    }
  }
  if (blank(widths)) found.push(problem("No width was taken", `Take the widths at station ${station}.`, { station, field: "width 1" }, "warning"));
  const known = widths.map((one, k) => [k + 1, one]).filter(([, one]) => one !== null);
  known.slice(1).forEach(([j, lower], i) => {
    const [above, upper] = known[i];
    if (lower >= upper) return;
    found.push(
      problem(
        `Width ${j} is less than width ${above} above it (${g(lower)} and ${g(upper)}): swapped?`,
        "No back narrows downwards so high up; take both again.",
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
      if (!fits) found.push(problem(`Point ${i + 1} at (${g(out)}, ${g(up)}) lies beyond any horse`, CHECK_UNIT, where));
      else if (out < 0) {
        found.push(problem(`Point ${i + 1} lies on the other side of the midline (${g(out)})`, "Distances count outward from the midline on both sides; check the side.", where));
      }
    });
    found.push(...nothingRead(section[side], section.number, side));
  }
  return found;
}

function orderProblems(sections, limits) {
  if (!sections.length) return [problem("There is no station at all", "Measure at least three sections of the back.")];
  const first = sections.filter((one) => one.repeat === 0).sort((a, b) => a.number - b.number);
  const found = [];
  if (new Set(first.map((one) => one.distance)).size === 1) {
    found.push(problem("There is one station only", "Measure at least three: behind the shoulder, at the lowest point, at the last rib.", { station: first[0].number }));
  }
  found.push(...neighbours(first, limits), ...repeats(sections, first));
  for (const [side, words] of [["left", "near"], ["right", "off"]]) {
    if (first.every((one) => blank(one[side]) && blank(one.widths || []))) {
      found.push(problem(`The ${side} (${words}) side was not read at any station`, `Measure the ${side} side too: half a back is not mirrored into a whole one.`, { side }));
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
      problem(`The stations are at most ${g(widest)} mm apart`, "Were the distances written in inches or centimetres? State the unit; it is not guessed.", { field: "distance" }),
    ];
  }
  const found = [];
  byPlace.slice(1).forEach((other, i) => {
    const one = byPlace[i];
    if (other.distance - one.distance < limits.same_place_mm && one.number !== other.number) {
      found.push(
        problem(
          `Stations ${one.number} and ${other.number} are at the same place`,
          "Correct a distance; if it is one section measured twice, mark the second as a repeat.",
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
      problem(`Station ${one.number} was measured again, but never a first time`, "Correct the station's number, or its repeat to 0.", { station: one.number, field: "repeat" }),
    );
}

function toplineProblems(record, limits) {
  const { topline, geometry } = record;
  const where = { field: "topline" };
  if (!topline) return [problem("The topline was not measured, so the sections have no height", "Measure the height of the midline at every station.", where)];
  if (topline.heights) return heightProblems(topline.heights, record.sections, limits);
  const arm = geometry.topline.arm;
  const found = [...tooMany(topline.joints.length, arm.link_mm.length - 1, "topline joints", where), ...gap(topline.joints, where)];
  topline.joints.forEach((one, j) => found.push(...offScale(arm.scale, one, { field: `topline joint ${j + 1}` }, `Topline joint ${j + 1}`)));
  if (!within(topline.level, -60, 60)) found.push(problem(`The topline's first link at ${g(topline.level)}° lies on no back`, "Read the level again.", where));
  return found;
}

function heightProblems(heights, sections, limits) {
  const where = { field: "topline" };
  const bad = heights.filter(([s, z]) => !within(s, -limits.furthest_in_front_mm, limits.furthest_behind_mm) || !within(z, -2500, 2500));
  if (bad.length) return bad.map(([s, z]) => problem(`The topline at ${g(s)} mm with a height of ${g(z)} mm lies on no horse`, CHECK_UNIT, where));
  const all = heights.map(([, z]) => z);
  const rise = Math.max(...all) - Math.min(...all);
  const found = rise > limits.topline_rise_mm ? [problem(`The topline's heights differ by ${fixed(rise, 0)} mm`, CHECK_UNIT, where)] : [];
  return [...found, ...uncovered(heights.map(([s]) => s), sections, limits)];
}

export function uncovered(places, sections, limits) {
  if (!places.length) return [];
  const [first, last] = [Math.min(...places) - limits.same_place_mm, Math.max(...places) + limits.same_place_mm];
  const found = [];
  if (first > 0 || last < 0) {
    found.push(
      problem("The topline was not measured at the shoulder mark, where heights are counted from", "Measure a height in front of the shoulder mark (or on it) and one behind it.", { field: "topline" }),
    );
  }
  for (const one of sections) {
    if (one.distance >= first && one.distance <= last) continue;
    found.push(
      problem(`The topline was not measured at ${g(one.distance)} mm`, "Measure the height of the midline there: without it this section has no height.", { station: one.number, field: "topline" }),
    );
  }
  return found;
}


