// The verdict on a back while the horse still stands there, by the program's own limits, which come along.
import { told } from "../../../base/script/parts/told.js";
import { fixed } from "./numbers.js";
import { problem, readingsProblems, uncovered } from "./plausible.js";
import { recordOf } from "./readings.js";
import { armAngles, armPoints, distanceTo, halvesOf, heightAt, norm } from "./sections.js";

const DEGREE = Math.PI / 180;
const HALF_WIDTH_STEP_MM = 20;
const SAME_PLACE_MM = 0.5;
const warning = (what, cure, where) => problem(what, cure, where, "warning");

export function judgeValues(geometry, values, table) {
  return judge(recordOf(geometry, values), table);
}

// Returns {verdict, words, mustHaves, problems, repeats: [[station, mm], …], canBeRecorded}.
export function judge(record, table) {
  const { limits } = table;
  const raw = readingsProblems(record, limits);
  const left = mustHavesLeft(record, table);
  const stopping = raw.filter((one) => one.weight === "error");
  const points = stopping.length ? null : toplinePoints(record, limits);
  if (!points || points.problems) {
    const found = points?.problems || stopping;
    return judged("not_enough", left, record.sections.length ? unique(found) : [], [], table, [], false);
  }
  const sections = record.sections.map((one) => halvesOf(record.geometry, one));
  const differences = repeatDifferences(sections);
  const [good, worst] = repeatLimits(record.geometry, limits);
  const problems = [
    ...raw,
    ...stanceProblems(record, limits),
    ...sections.flatMap((one) => shapeProblems(one, limits, !isCoarse(record.geometry))),
    ...swapProblems(sections.filter((one) => one.section.repeat === 0), limits),
    ...spacingProblems(record, points.midline, limits),
    ...kinkProblems(points.midline, limits),
    ...[...differences].filter(([, off]) => off > good).map(([number, off]) => repeatProblem(number, off, off > worst)),
  ];
  const blamed = [...new Set(problems.map((one) => one.station).filter((one) => one !== null))].sort((a, b) => a - b);
  const stations = new Set(record.sections.map((one) => `${one.number} ${one.distance}`)).size;
  let verdict = "good";
  if (problems.some((one) => one.weight === "error") || stations < limits.trend_stations) verdict = "not_enough";
  else if (blamed.length) verdict = "repeat";
  else if (isCoarse(record.geometry)) verdict = "coarse";
  else if (left.length || problems.length) verdict = "trend_only";
  const repeats = [...differences].sort((a, b) => a[0] - b[0]);
  return judged(verdict, left, problems, repeats, table, blamed, !problems.some((one) => one.weight === "error"));
}

// Too coarse for an order or a trend, however well it was read.
export const isCoarse = (geometry) => geometry.family === "tape";

function repeatLimits(geometry, limits) {
  if (isCoarse(geometry)) return [limits.coarse_repeat_good_mm, limits.coarse_repeat_worst_mm];
  return [limits.repeat_good_mm, limits.repeat_worst_mm];
}

function unique(problems) {
  const seen = new Set();
  return problems.filter((one) => {
    const key = JSON.stringify(one);
    return seen.has(key) ? false : seen.add(key);
  });
}

function judged(verdict, mustHaves, problems, repeats, table, blamed, canBeRecorded) {
  const words = {
    good: told("Good"),
    repeat: told("Repeat station {words}", { words: named(blamed) }),
    coarse: told("Coarse: enough for a first look, not for an order"),
    trend_only: told("Enough for a trend, not for an order"),
    not_enough: told("Not enough to work with yet"),
  }[verdict];
  return { verdict, words, mustHaves, problems, repeats, stations: verdict === "repeat" ? blamed : [], canBeRecorded };
}

function named(numbers) {
  if (numbers.length < 2) return numbers.join("");
  return told("{words} and {words2}", { words: numbers.slice(0, -1).join(", "), words2: numbers[numbers.length - 1] });
}

export function mustHavesLeft(record, { limits, marks }) {
  const left = [];
  for (const [name, words] of Object.entries(marks)) if (record.mark(name) === null) left.push(told("the mark: {words}", { words }));
  if (!record.topline) left.push(told("the topline"));
  const distances = record.sections.map((one) => one.distance);
  if (!distances.some((s) => s >= 0 && s <= limits.behind_shoulder_mm)) left.push(told("a section behind the shoulder"));
  const nearMarks = [
    ["lowest", (number) => told("a section at the lowest point ({number} mm)", { number })],
    ["last_rib", (number) => told("a section at the last-rib mark ({number} mm)", { number })],
  ];
  for (const [name, words] of nearMarks) {
    const mark = record.mark(name);
    if (mark !== null && !distances.some((s) => Math.abs(s - mark) <= limits.near_landmark_mm)) {
      left.push(words(fixed(mark, 0)));
    }
  }
  return left;
}

// The midline's points as they stand on level ground, (behind, up); or why there are none.
function toplinePoints(record, limits) {
  const { topline, geometry } = record;
  let points = topline.heights;
  if (!points) {
    const { arm } = geometry.topline;
    const angles = armAngles(arm, [0, ...topline.joints]);
    angles[0] = (arm.zero_deg[0] + topline.level) * DEGREE;
    const pads = [[0, 0], ...armPoints(arm, angles).pads];
    if (pads.slice(1).some(([s], i) => s - pads[i][0] <= SAME_PLACE_MM)) {
      const cure = told("Check the level and the joints' signs: positive bends down towards the tail.");
      return { problems: [problem(told("The topline's chain doubles back on itself"), cure, { field: "topline" })] };
    }
    points = pads.map(([s, z]) => [topline.start + s, z]);
  }
  const row = [...points].sort((a, b) => a[0] - b[0]);
  if (1 + row.slice(1).filter(([s], i) => s - row[i][0] > SAME_PLACE_MM).length < 2) {
    const cure = told("Measure its height at every station, and in front of the first and behind the last.");
    return { problems: [problem(told("The topline was measured at one place only"), cure, { field: "topline" })] };
  }
  const lost = uncovered(points.map(([s]) => s), record.sections, limits);
  if (lost.length) return { problems: lost };
  const origin = straightAt(row, 0);
  const [pitch, roll] = [record.pitch * DEGREE, record.roll * DEGREE];
  const midline = points.map(([s, z]) => {
    const up = (z - origin) * Math.cos(roll);
    return [s * Math.cos(pitch) - up * Math.sin(pitch), s * Math.sin(pitch) + up * Math.cos(pitch)];
  });
  return { midline: midline.sort((a, b) => a[0] - b[0]) };
}

// Only where the horse is turned to level does this height count, and then by a hundredth of a millimetre or two.
function straightAt(row, s) {
  for (let i = 0; i + 1 < row.length; i += 1) {
    const [[a, za], [b, zb]] = [row[i], row[i + 1]];
    if (a <= s && s <= b && b > a) return za + ((s - a) / (b - a)) * (zb - za);
  }
  return row[0][1];
}

function stanceProblems({ pitch, roll }, limits) {
  const worst = Math.max(Math.abs(pitch), Math.abs(roll));
  if (worst <= limits.level_good_deg) return [];
  const far = worst > limits.level_worst_deg;
  const given = { number: fixed(worst, 1) };
  return [
    warning(
      far ? told("The stance is {number}° off level: no horse stands square on that", given) : told("The stance is {number}° off level", given),
      far ? told("Move to level ground and measure again.") : told("Look for more level ground next time."),
      { field: "stance" },
    ),
  ];
}

function spacingProblems(record, midline, limits) {
  const places = [...new Set(record.sections.map((one) => one.distance))].sort((a, b) => a - b);
  return [
    ...gaps(places, limits.coarse_stations_mm, (given) => told("There is no section between {number} and {number2} mm", given), "distance"),
    ...gaps(midline.map(([s]) => s), limits.topline_gap_mm, (given) => told("The topline has no height between {number} and {number2} mm", given), "topline"),
  ];
}

function gaps(places, most, words, field) {
  return places.slice(1).flatMap((to, i) => {
    const from = places[i];
    if (to - from <= most) return [];
    const cure = told("Measure one near {number} mm.", { number: fixed(from + (to - from) / 2, 0) });
    return [warning(words({ number: fixed(from, 0), number2: fixed(to, 0) }), cure, { field })];
  });
}

function kinkProblems(midline, limits) {
  const row = midline.filter((one, i) => i === 0 || one[0] - midline[i - 1][0] >= limits.same_place_mm);
  const slopes = row.slice(1).map(([s, z], i) => Math.atan2(z - row[i][1], s - row[i][0]));
  const turns = slopes.slice(1).map((one, i) => Math.abs(one - slopes[i]));
  const worst = Math.max(...turns, 0);
  if (worst <= limits.topline_kink_deg * DEGREE) return [];
  const place = row[1 + turns.indexOf(worst)][0];
  const given = { number: fixed(worst / DEGREE, 0), number2: fixed(place, 0) };
  return [
    warning(told("The topline turns by {number}° at {number2} mm, as no back does", given), told("Read the heights around that place again."), { field: "topline" }),
  ];
}

export function shapeProblems({ section, left, right }, limits, bends = true) {
  const found = [];
  for (const [side, path] of [["left", left], ["right", right]]) {
    if (path.length > 1) found.push(...sizeProblems(path, { station: section.number, side }, limits));
  }
  if (!bends) return found;
  const across = [...right.slice(1).reverse().map(([x, z]) => [-x, z]), ...left];
  const sides = new Set();
  for (let i = 1; i + 1 < across.length; i += 1) {
    const side = across[i][0] > 0 ? "left" : across[i][0] < 0 ? "right" : "";
    const one = bendProblem(across, i, { station: section.number, side }, limits);
    if (one && !sides.has(side)) {
      sides.add(side);
      found.push(one);
    }
  }
  return found;
}

function sizeProblems(path, where, limits) {
  const reach = Math.max(...path.map(([x]) => x));
  const heights = path.map(([, z]) => z);
  const drop = Math.max(...heights) - Math.min(...heights);
  if (reach < limits.narrowest_reach_mm) {
    const cure = told("Was it written in inches or centimetres? State the unit; or measure further out.");
    return [warning(told("The section reaches only {number} mm out from the midline", { number: fixed(reach, 0) }), cure, where)];
  }
  if (reach > 100 && drop < limits.flattest_drop_mm) {
    const cure = told("Were the depths written in inches or centimetres? State the unit; or measure again.");
    return [warning(told("The section falls by only {number} mm over {number2} mm", { number: fixed(drop, 0), number2: fixed(reach, 0) }), cure, where)];
  }
  return [];
}

const READ_AGAIN = {
  left: () => told("Read the left side of this section again around that place."),
  right: () => told("Read the right side of this section again around that place."),
  "": () => told("Read this section again around that place."),
};

function bendProblem(across, i, where, limits) {
  const here = across[i];
  const away = across.map(([x, z]) => Math.hypot(x - here[0], z - here[1]));
  let before = i - 1;
  while (before >= 0 && away[before] < limits.kink_step_mm) before -= 1;
  let after = i;
  while (after < across.length && away[after] < limits.kink_step_mm) after += 1;
  if (before < 0 || after >= across.length) return null;
  const come = [here[0] - across[before][0], here[1] - across[before][1]];
  const go = [across[after][0] - here[0], across[after][1] - here[1]];
  const turn = Math.abs(Math.atan2(come[0] * go[1] - come[1] * go[0], come[0] * go[0] + come[1] * go[1]));
  const radius = turn > 1e-6 ? norm([come[0] + go[0], come[1] + go[1]]) / (2 * Math.sin(turn)) : Infinity;
  const place = { number: fixed(Math.abs(here[0]), 0), number2: fixed(-here[1], 0) };
  if (Math.abs(here[0]) >= limits.spine_half_width_mm && turn > limits.kink_deg * DEGREE && radius < limits.tightest_radius_mm) {
    const what = told("A kink no back has, {number} mm out and {number2} mm down: it turns by {number3}°", { ...place, number3: fixed(turn / DEGREE, 0) });
    return warning(what, READ_AGAIN[where.side](), where);
  }
  const gap = Math.max(...[i - 1, i].map((k) => norm([across[k + 1][0] - across[k][0], across[k + 1][1] - across[k][1]])));
  const sagitta = (gap * gap) / (8 * radius);
  if (sagitta <= limits.coarse_sagitta_mm) return null;
  return warning(
    told("Too coarse for the curve, {number} mm out and {number2} mm down: points are {number3} mm apart", { ...place, number3: fixed(gap, 0) }),
    told("Add points there: between them the back may lie {number} mm off.", { number: fixed(sagitta, 0) }),
    where,
  );
}

export function repeatDifference(first, again) {
  const off = [];
  for (const side of ["left", "right"]) {
    const [one, other] = [first[side], again[side]];
    if (one.length < 3 || other.length < 2) continue;
    const reach = Math.max(...one.map(([x]) => x));
    off.push(...other.slice(1).filter(([x]) => x <= reach).map((point) => distanceTo(one, point) ** 2));
  }
  return off.length ? Math.sqrt(off.reduce((sum, one) => sum + one, 0) / off.length) : null;
}

function repeatDifferences(sections) {
  const first = new Map(sections.filter((one) => one.section.repeat === 0).map((one) => [one.section.number, one]));
  const found = new Map();
  for (const one of sections) {
    const { number, repeat } = one.section;
    if (!repeat || !first.has(number)) continue;
    const off = repeatDifference(first.get(number), one);
    if (off !== null) found.set(number, Math.max(off, found.get(number) || 0));
  }
  return found;
}

function repeatProblem(number, off, isWorst) {
  const given = { number: fixed(off, 1) };
  const what = isWorst ? told("The repeat differs by {number} mm: the horse or the instrument moved", given) : told("The repeat differs by {number} mm", given);
  return warning(what, told("Stand the horse square and measure this section again."), { station: number });
}

export function swapProblems(sections, limits) {
  const row = [...sections].sort((a, b) => a.section.distance - b.section.distance);
  const reachOf = (half) => Math.max(...half.map(([x]) => x));
  const reach = row.length ? Math.min(...row.map((one) => Math.min(reachOf(one.left), reachOf(one.right)))) : 0;
  const out = Array.from({ length: Math.max(0, Math.floor((0.9 * reach) / HALF_WIDTH_STEP_MM)) }, (_, i) => (i + 1) * HALF_WIDTH_STEP_MM);
  const known = row
    .map((one) => ({ one, shape: [one.left, one.right].map((half) => out.map((x) => heightAt(half, x))) }))
    .filter(({ shape }) => shape.flat().every((z) => z !== null));
  if (out.length < 2 || known.length < 3) return [];
  const distances = known.map(({ one }) => one.section.distance);
  const shapes = known.map(({ shape }) => shape.flat());
  const sd = known.reduce((sum, { one }) => sum + one.sd, 0) / known.length;
  const least = Math.max(limits.swap_mm, limits.swap_errors * sd);
  const number = (i) => known[i].one.section.number;
  const traded = known.length >= 4 ? best(distances, shapes, swappedNeighbours(shapes), limits, least) : null;
  if (traded !== null) {
    const given = { number: number(traded), number2: number(traded + 1) };
    const words = told("Stations {number} and {number2} look swapped: traded, the back is smooth", given);
    return [warning(words, told("Check which section was written under which station, or measure both again."), { station: number(traded) })];
  }
  const lean = known.map(({ shape }) => shape[0].map((z, k) => z - shape[1][k]));
  const flipped = best(distances, lean, lean.map((_, i) => lean.map((one, j) => (i === j ? one.map((z) => -z) : one))), limits, least);
  if (flipped === null) return [];
  return [
    warning(told("Left and right look swapped: its neighbours differ the other way round"), told("Check which side was called first here, or measure this section again."), { station: number(flipped) }),
  ];
}

function swappedNeighbours(shapes) {
  return shapes.slice(1).map((_, i) => {
    const order = [...shapes];
    [order[i], order[i + 1]] = [order[i + 1], order[i]];
    return order;
  });
}

function unevenness(distances, shapes) {
  let [sum, n] = [0, 0];
  for (let i = 1; i + 1 < shapes.length; i += 1) {
    const share = (distances[i] - distances[i - 1]) / (distances[i + 1] - distances[i - 1]);
    shapes[i].forEach((z, k) => {
      sum += (z - (1 - share) * shapes[i - 1][k] - share * shapes[i + 1][k]) ** 2;
      n += 1;
    });
  }
  return Math.sqrt(sum / n);
}

function best(distances, shapes, traded, limits, least) {
  const before = unevenness(distances, shapes);
  const after = traded.map((one) => unevenness(distances, one));
  const at = after.indexOf(Math.min(...after));
  return before - after[at] > least && before > limits.swap_ratio * after[at] ? at : null;
}
