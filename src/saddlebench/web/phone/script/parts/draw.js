// Marks on a photo that still lies on this phone: drawn as on the photo's own page, sent with the photo.
import { startDrawing, startMark } from "../../../photos/script/parts/drawing.js";
import { readNumber } from "../../../capture/script/parts/number.js";
import { newKey } from "./book.js";
import { backTo, deed, deeds, make, told } from "./words.js";

const KINDS = [["line", told("Line"), 2], ["angle", told("Angle"), 3], ["known", told("Known length"), 2], ["distance", told("Distance"), 2]];
const HOW = told("Touch its points on the picture; or move the cross with the arrow keys and set each point with Enter.");
const SVG = "http://www.w3.org/2000/svg";
let isListening = false;

export async function showDraw(app, place, uuid) {
  const { book } = app;
  const photo = book.photos.find((one) => one.uuid === uuid);
  const back = backTo(told("Photos"), photo ? `#/visit/${photo.visit}/photos` : "#/");
  place.append(back, make("h1", "", told("Draw on the photo")));
  // While somebody draws on it, it is not sent: what is drawn later would not go with it.
  book.drawingOn = uuid;
  let address = "";
  app.leave = () => {
    book.drawingOn = "";
    if (address) URL.revokeObjectURL(address);
    app.sync.soon();
  };
  const content = photo && (await book.bytes(uuid));
  if (!content) {
    place.append(make("p", "", told("This photo was sent, and lies on the laptop: draw on it there.")));
    return;
  }
  if (book.drawingOn !== uuid) return;
  address = URL.createObjectURL(new Blob([content]));
  const image = make("img");
  image.alt = photo.label || told("Photo");
  image.src = address;
  const said = make("p", "hint");
  said.setAttribute("role", "status");
  try {
    await image.decode();
  } catch {
    place.append(make("p", "problem", told("This browser cannot show this photo. It is kept, and can be drawn on at the laptop.")));
    return;
  }
  const sheet = make("div", "drawing");
  sheet.id = "drawing";
  const list = make("ol", "drawn-list");
  const svg = surface(image.naturalWidth, image.naturalHeight);
  const canvas = make("div", "canvas");
  canvas.append(image, svg);
  const show = () => {
    const marks = photo.drawn || [];
    for (const old of svg.querySelectorAll(".drawn")) old.remove();
    svg.prepend(...marks.map((one) => marked(one, image.naturalWidth, image.naturalHeight)));
    svg.setAttribute("aria-label", marks.map(wordsOf).join(". ") || told("Nothing is drawn."));
    list.replaceChildren(
      ...marks.map((one) => {
        const item = make("li", "", wordsOf(one));
        item.append(deed(told("Rub off"), "quiet small", () => keep(marks.filter((other) => other !== one))));
        return item;
      }),
    );
  };
  const keep = async (drawn) => {
    try {
      await book.photoTold(photo, { drawn });
      said.className = "hint";
      said.textContent = `✓ ${told("kept on this phone")}`;
    } catch (error) {
      said.className = "hint field-problem";
      said.textContent = `✕ ${error.message}`;
    }
    show();
  };
  const form = chooser();
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    const mark = markOf(form);
    startMark(sheet);
    form.querySelector("[data-said]").textContent = HOW;
    if (mark.wrong) {
      said.className = "hint field-problem";
      said.textContent = `✕ ${mark.wrong}`;
      return;
    }
    const others = (photo.drawn || []).filter((one) => mark.kind !== "known" || one.kind !== "known");
    keep([...others, mark]);
  });
  sheet.append(canvas, list, form, said);
  place.append(sheet, make("p", "note", told("What a mark measures is worked out on the laptop. A distance is true only in the plane of the known length: a ruler held where you measure.")), deeds(backLink(photo)));
  if (!isListening) startDrawing();
  isListening = true;
  show();
}

function backLink(photo) {
  const made = make("a", "button", told("Done"));
  made.href = `#/visit/${photo.visit}/photos`;
  return made;
}

function surface(width, height) {
  const made = document.createElementNS(SVG, "svg");
  made.setAttribute("viewBox", `0 0 ${width} ${height}`);
  made.setAttribute("role", "img");
  made.setAttribute("tabindex", "0");
  made.dataset.draw = "";
  return made;
}

function marked(mark, width, height) {
  const group = document.createElementNS(SVG, "g");
  group.setAttribute("class", `drawn drawn-${mark.kind}`);
  for (const style of ["halo", ""]) {
    const line = document.createElementNS(SVG, "polyline");
    line.setAttribute("class", style);
    line.setAttribute("points", mark.points.map(([x, y]) => `${x * width},${y * height}`).join(" "));
    line.setAttribute("vector-effect", "non-scaling-stroke");
    group.append(line);
  }
  return group;
}

function wordsOf(mark) {
  const words = KINDS.find(([kind]) => kind === mark.kind)[1];
  return mark.kind === "known" ? told("Known length of {number} mm", { number: mark.known_mm }) : words;
}

function markOf(form) {
  const chosen = form.querySelector("[name=kind]:checked");
  const points = [];
  for (let n = 1; n <= Number(chosen.dataset.points); n += 1) {
    const pair = ["x", "y"].map((axis) => readNumber(form.elements.namedItem(`${axis}${n}`).value).number / 100);
    if (!pair.every((at) => at >= 0 && at <= 1)) return { wrong: told("A point is not set, or lies outside the picture.") };
    points.push(pair);
  }
  const apart = (a, b) => Math.hypot(a[0] - b[0], a[1] - b[1]) > 0.002;
  if (!points.slice(1).every((one, i) => apart(one, points[i]))) return { wrong: told("Two points lie at one place: set them apart.") };
  const mark = { key: newKey(), kind: chosen.value, points };
  if (mark.kind !== "known") return mark;
  const known = readNumber(form.elements.namedItem("known_mm").value).number;
  return known > 0 ? { ...mark, known_mm: known } : { wrong: told("Say how long the known length is, in millimetres.") };
}

function chooser() {
  const form = make("form", "sheet draw-form");
  form.dataset.drawForm = "";
  const kinds = make("fieldset");
  const row = make("div", "kinds");
  for (const [value, words, n] of KINDS) {
    const label = make("label");
    const radio = make("input");
    Object.assign(radio, { type: "radio", name: "kind", value, checked: value === "line" });
    radio.dataset.points = n;
    label.append(radio, make("span", "", words));
    row.append(label);
  }
  kinds.append(make("legend", "", told("What")), row);
  const said = make("p", "note", HOW);
  said.dataset.said = "";
  said.setAttribute("role", "status");
  const numbers = make("details");
  numbers.append(make("summary", "", told("Points by numbers")), pointFields());
  const draw = make("button", "quiet", told("Draw"));
  draw.type = "submit";
  numbers.append(deeds(draw));
  form.append(kinds, field("known_mm", told("Known length, mm"), "known"), said, numbers);
  return form;
}

function pointFields() {
  const made = make("div", "points");
  for (let n = 1; n <= 3; n += 1) made.append(field(`x${n}`, told("{number} across, %", { number: n })), field(`y${n}`, told("{number} down, %", { number: n })));
  return made;
}

function field(name, words, classes = "") {
  const label = make("label", classes, words);
  const input = make("input");
  Object.assign(input, { name, type: "text", inputMode: "decimal", autocomplete: "off" });
  label.append(input);
  return label;
}
