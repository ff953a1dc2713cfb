// A back being measured on the phone: how far it is, what is still needed, and what it is good for.
import { readNumber } from "../../../capture/script/parts/number.js";
import { partsOf, planOf, planProblem, stateOf } from "./asked.js";
import { newKey } from "./book.js";
import { cardOf, cardPart, cardTick } from "./card.js";
import { drawSections, emptyPicture } from "./drawing.js";
import { fill } from "./fields.js";
import { judgeValues } from "./judge.js";
import { backTo, dayWords, deeds, link, make, row, rows, told } from "./words.js";

const SIGNS = { good: ["✓", "fine"], repeat: ["≈", "borderline"], trend_only: ["≈", "borderline"], coarse: ["≈", "borderline"], not_enough: ["✕", "not-right"] };

export function showMeasureStart(app, place, uuid) {
  const { book } = app;
  const visit = book.visit(uuid);
  if (!visit || !book.carried) {
    place.append(backTo(told("All visits"), "#/"), make("h1", "", told("Not on this phone")));
    return;
  }
  const form = make("form", "sheet");
  const tool = make("select");
  fill(tool, book.carried.instruments.map((one) => [one.name, one.label]));
  const how = make("select");
  const ways = () => {
    const chosen = book.carried.instruments.find((one) => one.name === tool.value);
    how.replaceChildren();
    fill(how, [["heights", told("Heights at places")], ...(chosen?.topline_chain ? [["chain", told("The chain along the topline")]] : [])]);
  };
  tool.addEventListener("change", ways);
  ways();
  const numbers = { first: input("-80"), spacing: input("80"), count: input("7") };
  const card = cardTick();
  const horse = input(visit.horse?.label || "");
  horse.inputMode = "text";
  const said = make("p", "problem");
  said.hidden = true;
  const begin = make("button", "", told("Begin"));
  begin.type = "submit";
  form.append(
    ...(visit.horse ? [] : labelled(told("Horse’s name"), horse)),
    ...labelled(told("Instrument"), tool),
    ...labelled(told("First section, mm behind the shoulder mark"), numbers.first),
    ...labelled(told("Apart, mm"), numbers.spacing),
    ...labelled(told("Sections"), numbers.count),
    ...labelled(told("Topline by"), how),
    card.fields,
    make("p", "hint", told("The first section is measured once more at the end: that tells whether the horse moved.")),
    said,
    deeds(begin),
  );
  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    const plan = { how: how.value };
    for (const [name, field] of Object.entries(numbers)) plan[name] = readNumber(field.value).number ?? NaN;
    const wrong = planProblem(plan) || card.problem() || (visit.horse || horse.value.trim() ? "" : told("Write the horse’s name."));
    said.hidden = !wrong;
    said.textContent = `✕ ${wrong}`;
    if (wrong) return;
    begin.disabled = true;
    try {
      const made = await begun(book, visit, book.carried.instruments.find((one) => one.name === tool.value), plan, horse.value.trim(), card);
      app.sync.soon();
      location.replace(`#/measure/${made}`);
    } catch (error) {
      said.hidden = false;
      said.textContent = `✕ ${error.message}`;
      begin.disabled = false;
    }
  });
  place.append(backTo(visit.label, `#/visit/${uuid}`), make("h1", "", told("Measure the back")), form);
}

function input(value) {
  const made = make("input");
  made.value = value;
  made.inputMode = "decimal";
  made.autocomplete = "off";
  return made;
}

let labels = 0;
function labelled(words, control) {
  labels += 1;
  control.id = control.id || `asked-${labels}`;
  const label = make("label", "", words);
  label.htmlFor = control.id;
  const made = make("div", "field");
  made.append(label, control);
  return [made];
}

async function begun(book, visit, tool, plan, name, card) {
  const uuid = newKey();
  const entries = [];
  let horse = visit.horse;
  if (!horse) {
    horse = { uuid: newKey(), label: name };
    entries.push({ kind: "horse", uuid: horse.uuid, label: name, words: told("New horse: {name}", { name }) });
  }
  const day = card.day();
  entries.push({ kind: "capture", uuid, horse: horse.uuid, visit: visit.uuid, measured_on: day, instrument: tool.document, words: told("Back of {name}", { name: horse.label }) });
  for (const [field, value] of Object.entries(planOf(plan))) {
    entries.push({ kind: "reading", uuid, field, value, seen: 0, words: told("Plan of the sections") });
  }
  for (const [field, value] of card.readings()) entries.push({ kind: "reading", uuid, field, value, seen: 0, words: told("From a yard card") });
  const { label, geometry, parts, topline_chain } = tool;
  const thing = { uuid, kind: "capture", label: `${horse.label}, ${dayWords(day)}`, horse, visit: visit.uuid, measured_on: day, revision: 0, values: {}, instrument: { label, geometry, parts, topline_chain } };
  await book.keep(entries, [thing]);
  return uuid;
}

export function showMeasure(app, place, uuid) {
  const { book } = app;
  // Made once: what is being typed there outlives a redrawing.
  let card = null;
  const draw = () => {
    const capture = book.capture(uuid);
    if (!capture || !book.carried) {
      place.replaceChildren(backTo(told("All visits"), "#/"), make("h1", "", told("Not on this phone")), make("p", "", told("It was finished on the laptop, or not taken along.")));
      return;
    }
    const values = book.readings(capture);
    card ||= cardPart(app, capture, values);
    const parts = partsOf(capture.instrument, values);
    const next = parts.find((one) => stateOf(one, values)[0] !== "✓");
    const picture = emptyPicture(told("The sections read so far, from behind"));
    const n = drawSections(picture, capture.instrument.geometry, values, "");
    const figure = make("figure", "picture");
    figure.append(picture, make("figcaption", "", told("Seen from behind: near on the left.")));
    figure.hidden = !n;
    place.replaceChildren(
      backTo(capture.visit ? book.visit(capture.visit)?.label || told("Visit") : told("All visits"), capture.visit ? `#/visit/${capture.visit}` : "#/"),
      make("h1", "", capture.label),
      make("p", "under", [capture.instrument.label, cardOf(capture, values)].filter(Boolean).join(" · ")),
      verdictCard(capture.instrument.geometry, values, book.carried.rules),
      ...(next ? [deeds(link(told("Go on: {words}", { words: next.words }), `#/measure/${uuid}/part/${next.key}`, "button"))] : []),
      figure,
      make("h2", "", told("Parts")),
      rows(parts.map((one) => partRow(uuid, one, values))),
      card,
      make("p", "note", told("The back is recorded, and a saddle’s fit checked, on the laptop once this is sent.")),
    );
  };
  draw();
  app.changed = draw;
}

function partRow(uuid, part, values) {
  const [sign, words, filled, of] = stateOf(part, values);
  return row(`#/measure/${uuid}/part/${part.key}`, part.words, `${told("{words}, {number} of {number2}", { words, number: filled, number2: of })} · ${part.detail}`, sign);
}

export function verdictCard(geometry, values, table) {
  const judged = judgeValues(geometry, values, table);
  const [sign, style] = SIGNS[judged.verdict];
  const card = make("section", `sheet verdict-card ${style}`);
  card.setAttribute("aria-label", told("Verdict before the horse goes"));
  card.append(make("p", "lead", `${sign} ${judged.words}`));
  for (const [number, off] of judged.repeats) {
    card.append(make("p", "", told("Section {number}, measured twice, differs by {number2} mm.", { number, number2: off.toFixed(1) })));
  }
  if (judged.mustHaves.length) {
    card.append(make("p", "", told("Still needed before the horse goes:")));
    const list = make("ul", "ticks");
    for (const one of judged.mustHaves) list.append(make("li", "", `○ ${one}`));
    card.append(list);
  }
  if (judged.problems.length) {
    const list = make("ul", "remarks");
    for (const one of judged.problems) {
      const where = [one.station === null ? "" : told("station {number}", { number: one.station }), one.side === "left" ? told("near") : one.side === "right" ? told("off") : ""].filter(Boolean).join(", ");
      list.append(make("li", "", `! ${where ? `${where}: ` : ""}${one.what}. ${one.cure}`));
    }
    card.append(list);
  }
  return card;
}

