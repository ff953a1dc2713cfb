// A back with a saddle on it, in the 3-D view.
import { BufferAttribute, BufferGeometry, Color, DoubleSide, Line, LineBasicMaterial, Mesh, MeshLambertMaterial, SRGBColorSpace } from "three";
import { openOrbit, readShape } from "./orbit.js";

const VIEWS = {
  home: { turn: 1.87, tilt: 0.8 },
  behind: { turn: Math.PI, tilt: 0.3 },
  above: { turn: Math.PI, tilt: 1.5 },
};

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
  const back = surface(arrays, "back");
  const panels = ["near", "off"].map((name) => surface(arrays, name));
  const lines = ["arch.line", "seat.line"].map((name) => line(arrays[name], 0x1f2a33));
  const colours = {};
  for (const [name, bytes] of Object.entries(arrays)) {
    if (bytes instanceof Uint8Array) colours[name] = coloured(bytes);
  }
  back.geometry.computeBoundingSphere();
  const orbit = openOrbit(stage, {
    label: `${head.title}, ${head.state}: in 3-D. Arrow keys turn it, plus and minus bring it closer or further away, Home puts it back.`,
    views: VIEWS,
    middle: back.geometry.boundingSphere.center.clone(),
    reach: back.geometry.boundingSphere.radius,
    lost,
  });
  orbit.scene.add(back, ...panels, ...lines);

  return {
    canvas: orbit.canvas,
    turn: orbit.turn,
    show(layer) {
      const alone = layer === "difference";
      back.geometry.setAttribute("color", colours[alone ? "back.difference" : "back.plain"]);
      ["near", "off"].forEach((name, k) => {
        panels[k].visible = !alone;
        if (!alone) panels[k].geometry.setAttribute("color", colours[`${name}.${layer}`]);
      });
      for (const one of lines) one.visible = !alone;
      orbit.redraw();
    },
    dispose: orbit.dispose,
  };
}
