// One piece of a scan as lit points in the 3-D view, to mark places on.
import { BufferAttribute, BufferGeometry, Points, PointsMaterial, Raycaster, Vector2, Vector3 } from "three";
import { openOrbit, readShape } from "../../../base/script/parts/orbit.js";

const VIEWS = { home: { turn: Math.PI / 2 + 0.25, tilt: 0.5 } };
// Points lie some way apart, and a thumb is wide: of those in reach the closest to the tap is taken.
const REACH_SHARE = 0.03;
const DOT_SHARE = 0.022;
const SHADE = 0x8f8a82;
const SAME_DEPTH_SHARE = 0.03;

export function openPiece(stage, buffer, { label, places, put, missed, lost }) {
  const { head, arrays } = readShape(buffer);
  const [turn, middle] = [head.turn, new Vector3(...head.middle)];
  const geometry = new BufferGeometry();
  geometry.setAttribute("position", new BufferAttribute(arrays["points.position"], 3));
  geometry.setAttribute("color", new BufferAttribute(arrays["points.colour"], 3, true));
  const cloud = new Points(geometry, new PointsMaterial({ size: head.radius * DOT_SHARE, vertexColors: true, color: SHADE }));
  const ray = new Raycaster();
  ray.params.Points.threshold = head.radius * REACH_SHARE;
  const pins = new Map();
  let orbit = null;

  // Shown p = R (file − middle); R's rows lie one after another in `turn`.
  const shown = (file) => {
    const d = new Vector3(...file).sub(middle);
    return new Vector3(...[0, 3, 6].map((r) => turn[r] * d.x + turn[r + 1] * d.y + turn[r + 2] * d.z));
  };
  const own = (p) => [0, 1, 2].map((c) => turn[c] * p.x + turn[c + 3] * p.y + turn[c + 6] * p.z + middle.getComponent(c));

  function hit(x, y) {
    const [width, height] = [orbit.canvas.clientWidth, orbit.canvas.clientHeight];
    ray.setFromCamera(new Vector2((x / width) * 2 - 1, 1 - (y / height) * 2), orbit.camera);
    const hits = ray.intersectObject(cloud);
    if (!hits.length) return null;
    // Of those on the near side the one closest to the tap.
    const near = hits.filter((one) => one.distance < hits[0].distance + head.radius * SAME_DEPTH_SHARE);
    const best = near.reduce((a, b) => (b.distanceToRay < a.distanceToRay ? b : a));
    return new Vector3().fromBufferAttribute(geometry.attributes.position, best.index);
  }
  const hands = {
    tap(x, y) {
      const point = hit(x, y);
      if (point) put(own(point));
      else missed();
    },
    key(event) {
      if (event.key !== "Enter") return false;
      hands.tap(orbit.canvas.clientWidth / 2, orbit.canvas.clientHeight / 2);
      return true;
    },
    drawn(_renderer, camera) {
      for (const { key, letter, at, isChosen } of places()) {
        if (!pins.has(key)) {
          const pin = document.createElement("span");
          const strong = document.createElement("strong");
          pin.className = "pin";
          pin.dataset.kind = "set";
          pin.setAttribute("aria-hidden", "true");
          strong.textContent = letter;
          pin.append(strong);
          stage.append(pin);
          pins.set(key, pin);
        }
        const pin = pins.get(key);
        pin.hidden = !at;
        pin.classList.toggle("chosen", isChosen);
        if (!at) continue;
        const on = shown(at).project(camera);
        pin.style.transform = `translate(${(((on.x + 1) / 2) * orbit.canvas.clientWidth).toFixed(1)}px, ${(((1 - on.y) / 2) * orbit.canvas.clientHeight).toFixed(1)}px)`;
      }
    },
  };
  orbit = openOrbit(stage, { label, views: VIEWS, middle: new Vector3(), reach: head.radius, lost, nearest: 0.12, fill: 0.95, hands });
  orbit.scene.add(cloud);
  return { canvas: orbit.canvas, redraw: orbit.redraw, turn: orbit.turn, dispose: orbit.dispose };
}
