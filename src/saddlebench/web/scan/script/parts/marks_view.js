// A scan's surface in the 3-D view, with marks that can be put, dragged under a loupe, and nudged.
import { BufferAttribute, BufferGeometry, DoubleSide, Mesh, MeshLambertMaterial, Points, PointsMaterial, Raycaster, Vector2, Vector3 } from "three";
import { openOrbit, readShape } from "../../../base/script/parts/orbit.js";

const VIEWS = {
  home: { turn: Math.PI / 2 + 0.25, tilt: 0.5 },
  other: { turn: -Math.PI / 2 - 0.25, tilt: 0.5 },
  above: { turn: Math.PI / 2, tilt: 1.5 },
};
const AXIS_DEPTH_MM = 220;
const DEPTH_MM = 150;
const REACH_MM = 950;
const FAR_MM = 900;
const FURTHEST_NUDGE_MM = 60;
const LOUPE_PX = 132;
const LOUPE_TIMES = 3;
const NUDGES = { ArrowLeft: "head", ArrowRight: "tail", ArrowUp: "off", ArrowDown: "near" };

function surfaceOf(arrays) {
  const geometry = new BufferGeometry();
  geometry.setAttribute("position", new BufferAttribute(arrays["skin.position"], 3));
  geometry.setIndex(new BufferAttribute(arrays["skin.index"], 1));
  geometry.computeVertexNormals();
  return new Mesh(geometry, new MeshLambertMaterial({ color: 0xb7a283, side: DoubleSide }));
}

function othersOf(arrays) {
  const geometry = new BufferGeometry();
  geometry.setAttribute("position", new BufferAttribute(arrays["others.position"], 3));
  return new Points(geometry, new PointsMaterial({ color: 0x9aa3a9, size: 9 }));
}

// What is looked at: the back between the marks, not the whole of the skin with neck and croup.
function middleOf(skin, told) {
  skin.geometry.computeBoundingSphere();
  const there = told.filter((one) => one.at);
  if (!there.length) return skin.geometry.boundingSphere.center.clone();
  const sum = there.reduce((all, one) => all.add(new Vector3(...one.at)), new Vector3());
  return sum.divideScalar(there.length).add(new Vector3(0, 0, -DEPTH_MM));
}

function pinFor(stage, mark) {
  const pin = document.createElement("span");
  const letter = document.createElement("strong");
  pin.className = "pin";
  pin.setAttribute("aria-hidden", "true");
  letter.textContent = mark.letter;
  pin.append(letter);
  stage.append(pin);
  return pin;
}

// `put(key, [x, y, z])` is called with where a mark was set; `chosen()` says which mark is in hand; `missed()`: beside the horse.
export function openMarks(stage, buffer, { label, told, lost, chosen, choose, put, missed }) {
  const { arrays } = readShape(buffer);
  const skin = surfaceOf(arrays);
  const positions = arrays["skin.position"];
  const marks = new Map();
  const pins = new Map();
  const ray = new Raycaster();
  const loupe = document.createElement("span");
  loupe.className = "loupe";
  loupe.hidden = true;
  loupe.setAttribute("aria-hidden", "true");
  let held = null;
  let orbit = null;

  const size = () => [orbit.canvas.clientWidth, orbit.canvas.clientHeight];
  function onScreen(point) {
    const [width, height] = size();
    const at = point.clone().project(orbit.camera);
    return [((at.x + 1) / 2) * width, ((1 - at.y) / 2) * height];
  }
  function hit(x, y) {
    const [width, height] = size();
    ray.setFromCamera(new Vector2((x / width) * 2 - 1, 1 - (y / height) * 2), orbit.camera);
    return ray.intersectObject(skin)[0]?.point ?? null;
  }
  function isBehind(point) {
    const way = point.clone().sub(orbit.camera.position);
    ray.set(orbit.camera.position, way.clone().normalize());
    const first = ray.intersectObject(skin)[0];
    return Boolean(first) && first.distance < way.length() - 15;
  }
  function axisHeight(x) {
    let top = -Infinity;
    for (let i = 0; i < positions.length; i += 3) {
      if (Math.abs(positions[i] - x) < 30 && Math.abs(positions[i + 1]) < 60) top = Math.max(top, positions[i + 2]);
    }
    return top - AXIS_DEPTH_MM;
  }

  function nudge(key, way, mm) {
    const mark = marks.get(key);
    if (!mark?.point) return null;
    const x = mark.point.x + { head: mm, tail: -mm, near: 0, off: 0 }[way];
    const axis = axisHeight(x);
    if (!Number.isFinite(axis)) return null;
    const up = mark.point.z - axis;
    const turn = Math.atan2(mark.point.y, up) + ({ head: 0, tail: 0, near: mm, off: -mm }[way] / Math.hypot(mark.point.y, up));
    const out = new Vector3(0, Math.sin(turn), Math.cos(turn));
    ray.set(new Vector3(x, 0, axis).addScaledVector(out, FAR_MM), out.clone().negate());
    const point = ray.intersectObject(skin)[0]?.point;
    if (!point || point.distanceTo(mark.point) > FURTHEST_NUDGE_MM) return null;
    mark.point = point;
    orbit.redraw();
    return point.toArray();
  }

  function drawn(renderer, camera) {
    for (const [key, mark] of marks) {
      const pin = pins.get(key);
      pin.hidden = !mark.point;
      if (!mark.point) continue;
      const [x, y] = onScreen(mark.point);
      pin.style.transform = `translate(${x.toFixed(1)}px, ${y.toFixed(1)}px)`;
      pin.dataset.kind = mark.kind;
      pin.classList.toggle("behind", isBehind(mark.point));
      pin.classList.toggle("chosen", key === chosen());
    }
    loupe.hidden = !held;
    if (held) magnify(renderer, camera);
  }
  function magnify(renderer, camera) {
    const [width, height] = size();
    const [x, y] = onScreen(marks.get(held.key).point);
    const part = LOUPE_PX / LOUPE_TIMES;
    const left = x < width / 2 ? width - LOUPE_PX - 8 : 8;
    loupe.style.transform = `translate(${left}px, 8px)`;
    camera.setViewOffset(width, height, x - part / 2, y - part / 2, part, part);
    camera.updateProjectionMatrix();
    renderer.setScissorTest(true);
    for (const set of ["setViewport", "setScissor"]) renderer[set](left, height - LOUPE_PX - 8, LOUPE_PX, LOUPE_PX);
    renderer.render(orbit.scene, camera);
    renderer.setScissorTest(false);
    renderer.setViewport(0, 0, width, height);
    camera.clearViewOffset();
    camera.updateProjectionMatrix();
  }

  const hands = {
    grab(x, y, isTouch) {
      const key = chosen();
      const mark = marks.get(key);
      if (!mark?.point) return false;
      const [mx, my] = onScreen(mark.point);
      // The letter stands above the place: either may be taken hold of.
      const reach = isTouch ? 30 : 14;
      const apart = Math.min(Math.hypot(x - mx, y - my), Math.hypot(x - mx, y - my + 30));
      if (apart > reach) return false;
      held = { key, shift: [mx - x, my - y], before: mark.point.clone(), moved: false };
      orbit.redraw();
      return true;
    },
    drag(x, y) {
      const point = hit(x + held.shift[0], y + held.shift[1]);
      if (!point) return;
      held.moved = true;
      marks.get(held.key).point = point;
      orbit.redraw();
    },
    drop() {
      const was = held;
      held = null;
      orbit.redraw();
      if (was.moved) put(was.key, marks.get(was.key).point.toArray());
    },
    tap(x, y) {
      const key = chosen();
      if (!key) {
        const near = [...marks].find(([, mark]) => mark.point && Math.hypot(...onScreen(mark.point).map((v, i) => v - [x, y][i])) < 26);
        if (near) choose(near[0]);
        return;
      }
      const point = hit(x, y);
      if (!point) {
        missed();
        return;
      }
      marks.get(key).point = point;
      orbit.redraw();
      put(key, point.toArray());
    },
    key(event) {
      const key = chosen();
      if (!key) return false;
      const way = NUDGES[event.key];
      if (way) {
        const at = nudge(key, way, event.shiftKey ? 10 : 2);
        if (at) put(key, at, { later: true });
        else missed();
        return true;
      }
      if (event.key === "Enter") {
        hands.tap(...size().map((one) => one / 2));
        return true;
      }
      return false;
    },
    drawn,
  };
  orbit = openOrbit(stage, {
    label,
    views: VIEWS,
    middle: middleOf(skin, told),
    reach: REACH_MM,
    lost,
    nearest: 0.12,
    fill: 0.72,
    hands,
  });
  stage.append(loupe);
  orbit.scene.add(skin, othersOf(arrays));

  return {
    canvas: orbit.canvas,
    turn: orbit.turn,
    redraw: orbit.redraw,
    nudge,
    // Where a mark stands on the canvas, in its own pixels.
    placeOf: (key) => (marks.get(key)?.point ? onScreen(marks.get(key).point) : null),
    show(told) {
      for (const one of told) {
        if (!pins.has(one.key)) pins.set(one.key, pinFor(stage, one));
        marks.set(one.key, { kind: one.kind, point: one.at ? new Vector3(...one.at) : null });
      }
      orbit.redraw();
    },
    dispose() {
      orbit.dispose();
      loupe.remove();
      for (const pin of pins.values()) pin.remove();
    },
  };
}
