// A section's two sides from what was read: the same geometry, and the same stated errors, as the program's.
const DEGREE = Math.PI / 180;

export const isNumber = (value) => typeof value === "number" && Number.isFinite(value);
export const norm = (v) => Math.hypot(...v);

export function knownRun(readings) {
  const end = readings.findIndex((one) => one === null || one === undefined);
  return end < 0 ? readings : readings.slice(0, end);
}

const rounding = (scale) => (Math.abs(scale.per_division) * scale.step) / Math.sqrt(12);

// Where the pads of an arm touch (out, up), and the joints before them.
export function armPoints(arm, angles) {
  let [x, z] = [arm.first_joint_out_mm, arm.first_joint_up_mm];
  let below = 0;
  const pads = [];
  const joints = [];
  angles.forEach((angle, k) => {
    below += angle;
    const along = [Math.cos(below), -Math.sin(below)];
    const inward = [-Math.sin(below), -Math.cos(below)];
    joints.push([x, z]);
    const [a, b] = [arm.pad_along_mm[k], arm.pad_below_mm[k]];
    pads.push([x + a * along[0] + b * inward[0], z + a * along[1] + b * inward[1]]);
    x += arm.link_mm[k] * along[0];
    z += arm.link_mm[k] * along[1];
  });
  return { pads, joints };
}

export function armAngles(arm, readings) {
  return knownRun(readings).map((one, j) => (arm.zero_deg[j] + arm.scale.per_division * one) * DEGREE);
}

function chainSides(chain, section) {
  const variances = [];
  const sides = ["left", "right"].map((side) => {
    const arm = chain[side];
    const { pads, joints } = armPoints(arm, armAngles(arm, section[side].slice(0, arm.link_mm.length)));
    pads.forEach((pad, k) => {
      let variance = chain.placing.contact_mm ** 2;
      for (let j = 0; j <= k; j += 1) {
        const up = -(pad[0] - joints[j][0]);
        const own = Math.hypot(arm.joint_sd_deg[j], rounding(arm.scale)) * DEGREE;
        variance += (own * up) ** 2 + (arm.zero_sd_deg * DEGREE * up) ** 2;
      }
      variances.push(variance);
    });
    return pads;
  });
  return { sides, variances };
}

const near = (a, b) => Math.abs(a - b) < 1e-9;
const pinsFrom = (n) => Array.from({ length: n }, (_, i) => i + 1);
export const leftPins = (comb) => pinsFrom(comb.n_pins).filter((pin) => pin < comb.midline_pin - 1e-9).reverse();
export const rightPins = (comb) => pinsFrom(comb.n_pins).filter((pin) => pin > comb.midline_pin + 1e-9);
export function middlePin(comb) {
  const floor = Math.floor(comb.midline_pin);
  return [floor, floor + 1].find((pin) => near(pin, comb.midline_pin)) ?? null;
}

export function pinsOf(comb, section) {
  const found = new Map();
  leftPins(comb).forEach((pin, i) => isNumber(section.left[i]) && found.set(pin, section.left[i]));
  rightPins(comb).forEach((pin, i) => isNumber(section.right[i]) && found.set(pin, section.right[i]));
  const middle = middlePin(comb);
  if (middle !== null && isNumber(section.middle)) found.set(middle, section.middle);
  return found;
}

export function referenceWeights(comb) {
  if (comb.offset_mm !== null) return new Map();
  const middle = middlePin(comb);
  if (middle !== null) return new Map([[middle, 1]]);
  const first = Math.floor(comb.midline_pin);
  if (first < 2 || first + 2 > comb.n_pins) return new Map([[first, 0.5], [first + 1, 0.5]]);
  return new Map([[first - 1, -1 / 16], [first, 9 / 16], [first + 1, 9 / 16], [first + 2, -1 / 16]]);
}

function combSides(comb, section) {
  let depths = new Map([...pinsOf(comb, section)].map(([pin, one]) => [pin, one * comb.scale.per_division]));
  const weights = referenceWeights(comb);
  if ([...weights.keys()].some((pin) => !depths.has(pin))) depths = new Map();
  const pins = [...depths.keys()].sort((a, b) => a - b).filter((pin) => !weights.has(pin) || weights.size > 1);
  const used = depths.size ? weights : new Map();
  const bar = comb.offset_mm || [...used].reduce((sum, [pin, weight]) => sum + weight * depths.get(pin), 0);
  const sd = Math.hypot(comb.pin_sd_mm, rounding(comb.scale));
  const sides = [[], []];
  const variances = [];
  for (const pin of pins) {
    const across = (comb.midline_pin - pin) * comb.pitch_mm;
    let variance = comb.placing.contact_mm ** 2 + (comb.offset_mm === null ? 0 : comb.offset_sd_mm ** 2);
    for (const other of new Set([...pins, ...used.keys()])) {
      const moves = (other === pin ? -1 : 0) + (used.get(other) || 0);
      variance += (sd * moves) ** 2 + (comb.zero_sd_mm * moves) ** 2;
    }
    variances.push(variance);
    if (Math.abs(across) >= 1e-6) sides[across > 0 ? 0 : 1].push([Math.abs(across), bar - depths.get(pin)]);
  }
  return { sides, variances };
}

// How each point moves when a flexible curve springs open so far that its end moves by 1 mm.
function springBack(outward) {
  let [px, pz, length, mx, mz] = [0, 0, 0, 0, 0];
  const moved = outward.map(([x, z]) => {
    const step = Math.hypot(x - px, z - pz);
    length += step;
    mx += (step * (x + px)) / 2;
    mz += (step * (z + pz)) / 2;
    [px, pz] = [x, z];
    return [length * z - mz, -(length * x - mx)];
  });
  const end = moved.length ? norm(moved[moved.length - 1]) : 0;
  return moved.map(([x, z]) => (end > 0 ? [x / end, z / end] : [0, 0]));
}

function tracedSides(curve, section) {
  const own = Math.hypot(curve.point_sd_mm, (curve.step * curve.mm_per_unit) / Math.sqrt(12), curve.placing.contact_mm);
  const variances = [];
  const sides = ["left", "right"].map((side) => {
    const points = section[side].map(([out, up]) => [out * curve.mm_per_unit, up * curve.mm_per_unit]);
    const sprung = springBack(points);
    points.forEach(([, up], i) =>
      variances.push(own ** 2 + (curve.scale_sd * up) ** 2 + (curve.spring_back_sd_mm * sprung[i][1]) ** 2),
    );
    return points.filter(([out]) => Math.abs(out) >= 1e-6);
  });
  return { sides, variances };
}

// Where the hands lay at each width, and where a card that hangs down from the first one ended.
function tapeSides(tape, section) {
  const variances = [];
  const laid = tape.placing.contact_mm ** 2 + tape.depth_sd_mm ** 2;
  const angleSd = Math.hypot(tape.angle_sd_deg, rounding(tape.angle)) * DEGREE;
  const widths = tape.width_depths_mm.map((_, k) => (isNumber(section.widths[k]) ? section.widths[k] : null));
  const sides = ["left", "right"].map((side) => {
    const points = [];
    widths.forEach((one, k) => one !== null && points.push([(one * tape.width.per_division) / 2, -tape.width_depths_mm[k], laid]));
    const angle = section[side][0];
    if (isNumber(angle) && widths[0] !== null) {
      const fall = angle * tape.angle.per_division * DEGREE;
      const out = (widths[0] * tape.width.per_division) / 2 + tape.card_mm * Math.cos(fall);
      points.push([out, -tape.width_depths_mm[0] - tape.card_mm * Math.sin(fall), laid + (angleSd * Math.cos(fall) * tape.card_mm) ** 2]);
    }
    points.sort((a, b) => b[1] - a[1]);
    variances.push(...points.map((one) => one[2]));
    return points.map(([out, up]) => [out, up]);
  });
  return { sides, variances };
}

const SIDES = { chain: chainSides, comb: combSides, tracing: tracedSides, tape: tapeSides };

// Each side as a path from the midline outward, (out, up) in mm, and the height's usual error.
export function halvesOf(geometry, section) {
  const { sides, variances } = SIDES[geometry.family](geometry, section);
  const [left, right] = sides.map((side) => {
    const outward = side.length && side[0][0] > side[side.length - 1][0] ? [...side].reverse() : side;
    return [[0, 0], ...outward];
  });
  const mean = variances.reduce((sum, one) => sum + one, 0) / (variances.length || 1);
  return { section, left, right, sd: Math.sqrt(mean) };
}

export function heightAt(half, out) {
  let found = null;
  for (let i = 0; i + 1 < half.length; i += 1) {
    const [[x0, z0], [x1, z1]] = [half[i], half[i + 1]];
    if (x0 === x1 || out < Math.min(x0, x1) || out > Math.max(x0, x1)) continue;
    const z = z0 + ((out - x0) / (x1 - x0)) * (z1 - z0);
    if (found === null || z > found) found = z;
  }
  return found;
}

export function distanceTo(path, [x, z]) {
  let least = Infinity;
  for (let i = 0; i + 1 < path.length; i += 1) {
    const [[x0, z0], [x1, z1]] = [path[i], path[i + 1]];
    const [dx, dz] = [x1 - x0, z1 - z0];
    const square = Math.max(dx * dx + dz * dz, 1e-30);
    const share = Math.min(1, Math.max(0, ((x - x0) * dx + (z - z0) * dz) / square));
    least = Math.min(least, Math.hypot(x - x0 - share * dx, z - z0 - share * dz));
  }
  return least;
}
