// The one 3-D view: a canvas laid over the picture that was there first, a camera that goes round, and its gestures.
// One finger sideways turns, two fingers bring closer and tilt; up and down is left to the page. What is drawn, and
// what a tap or a drag on something means, is the caller's.
import { AmbientLight, Color, DirectionalLight, PerspectiveCamera, Scene, Vector3, WebGLRenderer } from "three";

const KINDS = { float32: Float32Array, uint32: Uint32Array, uint8: Uint8Array };
const STEP = Math.PI / 18;
const NEAREST = 0.35;
const FURTHEST = 3;
const STILL_PX = 9;

export function readShape(buffer) {
  const length = new DataView(buffer).getUint32(0, true);
  const head = JSON.parse(new TextDecoder().decode(new Uint8Array(buffer, 4, length)));
  const arrays = {};
  for (const [name, { type, offset, length: count }] of Object.entries(head.arrays)) {
    arrays[name] = new KINDS[type](buffer, 4 + length + offset, count);
  }
  return { head, arrays };
}

// `hands` may take what would otherwise turn the view: grab(x, y, isTouch) says whether something is held from there,
// drag(x, y), drop(), tap(x, y), key(event); and drawn(renderer, camera) adds to each picture. All of it is optional.
export function openOrbit(stage, { label, views, middle, reach, lost, nearest = NEAREST, fill = 0.78, hands = {} }) {
  const canvas = document.createElement("canvas");
  canvas.tabIndex = 0;
  canvas.setAttribute("role", "img");
  canvas.setAttribute("aria-label", label);
  const renderer = new WebGLRenderer({ canvas, antialias: true, powerPreference: "low-power" });
  renderer.setPixelRatio(Math.min(window.devicePixelRatio || 1, 2));
  stage.append(canvas);

  const scene = new Scene();
  scene.background = new Color(0xf7f7f5);
  scene.add(new AmbientLight(0xffffff, 1.9));
  const lamp = new DirectionalLight(0xffffff, 1.5);
  scene.add(lamp);
  const camera = new PerspectiveCamera(32, 1, reach / 20, reach * 20);
  camera.up = new Vector3(0, 0, 1);
  const eye = { ...views.home, away: 1 };
  let asked = 0;
  let isOver = false;

  function draw() {
    asked = 0;
    if (isOver) return;
    const width = canvas.clientWidth;
    const height = canvas.clientHeight;
    if (!width || !height) return;
    renderer.setSize(width, height, false);
    camera.aspect = width / height;
    // Far enough that the whole fits the narrower side.
    const half = ((camera.fov / 2) * Math.PI) / 180;
    const narrow = Math.min(half, Math.atan(Math.tan(half) * camera.aspect));
    const away = (eye.away * reach * fill) / Math.sin(narrow);
    camera.position.set(
      middle.x + away * Math.cos(eye.tilt) * Math.cos(eye.turn),
      middle.y + away * Math.cos(eye.tilt) * Math.sin(eye.turn),
      middle.z + away * Math.sin(eye.tilt),
    );
    camera.lookAt(middle);
    camera.updateProjectionMatrix();
    camera.updateMatrixWorld();
    lamp.position.copy(camera.position).add(new Vector3(0, 0, reach));
    lamp.target.position.copy(middle);
    lamp.target.updateMatrixWorld();
    renderer.render(scene, camera);
    hands.drawn?.(renderer, camera);
    canvas.dataset.eye = [eye.turn, eye.tilt, eye.away].map((part) => part.toFixed(4)).join(" ");
  }
  const redraw = () => (asked ||= requestAnimationFrame(draw));
  function look(turn, tilt, closer) {
    eye.turn = (eye.turn + turn) % (2 * Math.PI);
    eye.tilt = Math.min(1.55, Math.max(-0.4, eye.tilt + tilt));
    eye.away = Math.min(FURTHEST, Math.max(nearest, eye.away / closer));
    redraw();
  }
  const TURNS = {
    left: () => look(-STEP, 0, 1),
    right: () => look(STEP, 0, 1),
    up: () => look(0, STEP, 1),
    down: () => look(0, -STEP, 1),
    closer: () => look(0, 0, 1.2),
    further: () => look(0, 0, 1 / 1.2),
  };
  function turn(how) {
    if (TURNS[how]) TURNS[how]();
    else {
      Object.assign(eye, views[how] || views.home, { away: 1 });
      redraw();
    }
  }

  const KEYS = { ArrowLeft: "left", ArrowRight: "right", ArrowUp: "up", ArrowDown: "down", "+": "closer", "=": "closer", "-": "further", Home: "home" };
  canvas.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.metaKey) return;
    if (hands.key?.(event)) {
      event.preventDefault();
      return;
    }
    if (!KEYS[event.key]) return;
    event.preventDefault();
    turn(KEYS[event.key]);
  });

  const placeOf = (one) => {
    const box = canvas.getBoundingClientRect();
    return [one.clientX - box.left, one.clientY - box.top];
  };

  // Mouse and pen.
  let held = null;
  canvas.addEventListener("pointerdown", (event) => {
    if (event.pointerType === "touch" || event.button !== 0) return;
    const [x, y] = placeOf(event);
    held = { at: [event.clientX, event.clientY], from: [event.clientX, event.clientY], isStill: true, isGrabbed: Boolean(hands.grab?.(x, y, false)) };
    canvas.setPointerCapture(event.pointerId);
  });
  canvas.addEventListener("pointermove", (event) => {
    if (!held || event.pointerType === "touch") return;
    if (Math.hypot(event.clientX - held.from[0], event.clientY - held.from[1]) > STILL_PX / 2) held.isStill = false;
    if (held.isGrabbed) hands.drag(...placeOf(event));
    else if (!held.isStill || !hands.tap) look((held.at[0] - event.clientX) / 150, (event.clientY - held.at[1]) / 150, 1);
    held.at = [event.clientX, event.clientY];
  });
  canvas.addEventListener("pointerup", (event) => {
    if (!held || event.pointerType === "touch") return;
    const was = held;
    held = null;
    if (was.isGrabbed) hands.drop();
    else if (was.isStill) hands.tap?.(...placeOf(event));
  });
  canvas.addEventListener("pointercancel", (event) => {
    if (event.pointerType === "touch") return;
    if (held?.isGrabbed) hands.drop();
    held = null;
  });
  canvas.addEventListener(
    "wheel",
    (event) => {
      // The plain wheel scrolls the page; with the control key (and a pinch on a touch pad) it comes closer.
      if (!event.ctrlKey) return;
      event.preventDefault();
      look(0, 0, Math.exp(-event.deltaY / 200));
    },
    { passive: false },
  );

  // Fingers: touch events, since two fingers have to be told from one before the page starts to scroll.
  let fingers = null;
  let touch = null;
  const spread = (touches) => {
    const [a, b] = touches;
    return {
      x: b ? (a.clientX + b.clientX) / 2 : a.clientX,
      y: b ? (a.clientY + b.clientY) / 2 : a.clientY,
      apart: b ? Math.hypot(a.clientX - b.clientX, a.clientY - b.clientY) : 0,
      count: touches.length,
    };
  };
  const letGo = () => {
    if (touch?.isGrabbed) hands.drop();
    touch = null;
  };
  canvas.addEventListener(
    "touchstart",
    (event) => {
      fingers = spread(event.targetTouches);
      if (fingers.count > 1) {
        letGo();
        if (event.cancelable) event.preventDefault();
        return;
      }
      const [x, y] = placeOf(event.targetTouches[0]);
      touch = { from: [fingers.x, fingers.y], at: [x, y], isStill: true, isGrabbed: Boolean(hands.grab?.(x, y, true)) };
      // What is held moves up and down as well: the page must not scroll under it.
      if (touch.isGrabbed && event.cancelable) event.preventDefault();
    },
    { passive: false },
  );
  canvas.addEventListener(
    "touchend",
    (event) => {
      const was = touch;
      if (event.targetTouches.length) {
        fingers = spread(event.targetTouches);
        letGo();
        return;
      }
      fingers = null;
      touch = null;
      if (was?.isGrabbed) hands.drop();
      else if (was?.isStill && hands.tap) {
        if (event.cancelable) event.preventDefault();
        hands.tap(...was.at);
      }
    },
    { passive: false },
  );
  canvas.addEventListener("touchcancel", () => {
    fingers = null;
    letGo();
  });
  canvas.addEventListener(
    "touchmove",
    (event) => {
      const now = spread(event.targetTouches);
      if (touch && Math.hypot(now.x - touch.from[0], now.y - touch.from[1]) > STILL_PX) touch.isStill = false;
      if (touch?.isGrabbed) {
        if (event.cancelable) event.preventDefault();
        hands.drag(...placeOf(event.targetTouches[0]));
      } else if (fingers && fingers.count === now.count) {
        if (now.count > 1) {
          if (event.cancelable) event.preventDefault();
          look((fingers.x - now.x) / 150, (now.y - fingers.y) / 150, now.apart / (fingers.apart || now.apart));
        } else {
          look((fingers.x - now.x) / 150, 0, 1);
        }
      }
      fingers = now;
    },
    { passive: false },
  );

  const watcher = new ResizeObserver(redraw);
  watcher.observe(canvas);
  const gone = (event) => {
    event.preventDefault();
    if (!isOver) lost();
  };
  canvas.addEventListener("webglcontextlost", gone);

  return {
    canvas,
    scene,
    camera,
    turn,
    redraw,
    dispose() {
      isOver = true;
      watcher.disconnect();
      scene.traverse((one) => {
        one.geometry?.dispose();
        one.material?.dispose();
      });
      renderer.dispose();
      renderer.forceContextLoss();
      canvas.remove();
    },
  };
}
