// The one 3-D viewer: a back with a saddle on it, in a canvas laid over the picture that was there first.
// One finger sideways turns, two fingers bring closer and tilt; up and down is left to the page.
import {
  AmbientLight,
  BufferAttribute,
  BufferGeometry,
  Color,
  DirectionalLight,
  DoubleSide,
  Line,
  LineBasicMaterial,
  Mesh,
  MeshLambertMaterial,
  PerspectiveCamera,
  Scene,
  SRGBColorSpace,
  Vector3,
  WebGLRenderer,
} from "three";

const KINDS = { float32: Float32Array, uint32: Uint32Array, uint8: Uint8Array };
const VIEWS = {
  home: { turn: 1.87, tilt: 0.8 },
  behind: { turn: Math.PI, tilt: 0.3 },
  above: { turn: Math.PI, tilt: 1.5 },
};
const STEP = Math.PI / 18;
const NEAREST = 0.35;
const FURTHEST = 3;

export function readShape(buffer) {
  const length = new DataView(buffer).getUint32(0, true);
  const head = JSON.parse(new TextDecoder().decode(new Uint8Array(buffer, 4, length)));
  const arrays = {};
  for (const [name, { type, offset, length: count }] of Object.entries(head.arrays)) {
    arrays[name] = new KINDS[type](buffer, 4 + length + offset, count);
  }
  return { head, arrays };
}

function coloured(bytes) {
  // Colours come as they are to look; light is reckoned in linear ones.
  const out = new Float32Array(bytes.length);
  const colour = new Color();
  for (let i = 0; i < bytes.length; i += 3) {
    colour.setRGB(bytes[i] / 255, bytes[i + 1] / 255, bytes[i + 2] / 255, SRGBColorSpace);
    out.set([colour.r, colour.g, colour.b], i);
  }
  return new BufferAttribute(out, 3);
}

function surface(arrays, name) {
  const geometry = new BufferGeometry();
  geometry.setAttribute("position", new BufferAttribute(arrays[`${name}.position`], 3));
  geometry.setIndex(new BufferAttribute(arrays[`${name}.index`], 1));
  geometry.computeVertexNormals();
  return new Mesh(geometry, new MeshLambertMaterial({ vertexColors: true, side: DoubleSide }));
}

function line(points, colour) {
  const geometry = new BufferGeometry();
  geometry.setAttribute("position", new BufferAttribute(points, 3));
  return new Line(geometry, new LineBasicMaterial({ color: colour }));
}

export function openShape(stage, buffer, lost) {
  const { head, arrays } = readShape(buffer);
  const canvas = document.createElement("canvas");
  canvas.tabIndex = 0;
  canvas.setAttribute("role", "img");
  canvas.setAttribute("aria-label", `${head.title}, ${head.state}: in 3-D. Arrow keys turn it, plus and minus bring it closer or further away, Home puts it back.`);
  const renderer = new WebGLRenderer({ canvas, antialias: true, powerPreference: "low-power" });
  renderer.setPixelRatio(Math.min(window.devicePixelRatio || 1, 2));
  stage.append(canvas);

  const scene = new Scene();
  scene.background = new Color(0xf7f7f5);
  scene.add(new AmbientLight(0xffffff, 1.9));
  const lamp = new DirectionalLight(0xffffff, 1.5);
  scene.add(lamp);
  const back = surface(arrays, "back");
  const panels = ["near", "off"].map((name) => surface(arrays, name));
  const lines = ["arch.line", "seat.line"].map((name) => line(arrays[name], 0x1f2a33));
  scene.add(back, ...panels, ...lines);
  const colours = {};
  for (const [name, bytes] of Object.entries(arrays)) {
    if (bytes instanceof Uint8Array) colours[name] = coloured(bytes);
  }

  back.geometry.computeBoundingSphere();
  const middle = back.geometry.boundingSphere.center.clone();
  const reach = back.geometry.boundingSphere.radius;
  const camera = new PerspectiveCamera(32, 1, reach / 20, reach * 20);
  camera.up = new Vector3(0, 0, 1);
  const eye = { ...VIEWS.home, away: 1 };
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
    const away = (eye.away * reach * 0.78) / Math.sin(narrow);
    camera.position.set(
      middle.x + away * Math.cos(eye.tilt) * Math.cos(eye.turn),
      middle.y + away * Math.cos(eye.tilt) * Math.sin(eye.turn),
      middle.z + away * Math.sin(eye.tilt),
    );
    camera.lookAt(middle);
    camera.updateProjectionMatrix();
    lamp.position.copy(camera.position).add(new Vector3(0, 0, reach));
    lamp.target.position.copy(middle);
    lamp.target.updateMatrixWorld();
    renderer.render(scene, camera);
    canvas.dataset.eye = [eye.turn, eye.tilt, eye.away].map((part) => part.toFixed(4)).join(" ");
  }
  function look(turn, tilt, closer) {
    eye.turn = (eye.turn + turn) % (2 * Math.PI);
    eye.tilt = Math.min(1.55, Math.max(-0.4, eye.tilt + tilt));
    eye.away = Math.min(FURTHEST, Math.max(NEAREST, eye.away / closer));
    asked ||= requestAnimationFrame(draw);
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
      Object.assign(eye, VIEWS[how] || VIEWS.home, { away: 1 });
      look(0, 0, 1);
    }
  }

  const KEYS = { ArrowLeft: "left", ArrowRight: "right", ArrowUp: "up", ArrowDown: "down", "+": "closer", "=": "closer", "-": "further", Home: "home" };
  canvas.addEventListener("keydown", (event) => {
    if (!KEYS[event.key] || event.ctrlKey || event.metaKey) return;
    event.preventDefault();
    turn(KEYS[event.key]);
  });

  // Mouse and pen.
  let held = null;
  canvas.addEventListener("pointerdown", (event) => {
    if (event.pointerType === "touch" || event.button !== 0) return;
    held = [event.clientX, event.clientY];
    canvas.setPointerCapture(event.pointerId);
  });
  canvas.addEventListener("pointermove", (event) => {
    if (!held || event.pointerType === "touch") return;
    look((held[0] - event.clientX) / 150, (event.clientY - held[1]) / 150, 1);
    held = [event.clientX, event.clientY];
  });
  for (const over of ["pointerup", "pointercancel"]) canvas.addEventListener(over, () => (held = null));
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
  const spread = (touches) => {
    const [a, b] = touches;
    return {
      x: b ? (a.clientX + b.clientX) / 2 : a.clientX,
      y: b ? (a.clientY + b.clientY) / 2 : a.clientY,
      apart: b ? Math.hypot(a.clientX - b.clientX, a.clientY - b.clientY) : 0,
      count: touches.length,
    };
  };
  const began = (event) => {
    fingers = event.targetTouches.length ? spread(event.targetTouches) : null;
    if (event.targetTouches.length > 1 && event.cancelable) event.preventDefault();
  };
  canvas.addEventListener("touchstart", began, { passive: false });
  canvas.addEventListener("touchend", began, { passive: false });
  canvas.addEventListener("touchcancel", () => (fingers = null));
  canvas.addEventListener(
    "touchmove",
    (event) => {
      const now = spread(event.targetTouches);
      if (fingers && fingers.count === now.count) {
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

  const watcher = new ResizeObserver(() => look(0, 0, 1));
  watcher.observe(canvas);
  const gone = (event) => {
    event.preventDefault();
    if (!isOver) lost();
  };
  canvas.addEventListener("webglcontextlost", gone);

  return {
    canvas,
    turn,
    show(layer) {
      const alone = layer === "difference";
      back.geometry.setAttribute("color", colours[alone ? "back.difference" : "back.plain"]);
      ["near", "off"].forEach((name, k) => {
        panels[k].visible = !alone;
        if (!alone) panels[k].geometry.setAttribute("color", colours[`${name}.${layer}`]);
      });
      for (const one of lines) one.visible = !alone;
      look(0, 0, 1);
    },
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
