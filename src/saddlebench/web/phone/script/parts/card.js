// Readings that were written on a yard card first: on which day, begun at what hour, typed in when.
import { fieldFor } from "./fields.js";
import { dayWords, make, today, told } from "./words.js";

const PLAIN = { unit: "", hint: "", low: null, high: null, choices: [], required: false, max_length: 20 };
const FIELDS = [
  ["source/measured_on", { ...PLAIN, words: told("Day on the card"), kind: "date", widget: "date", required: true }],
  ["source/begun_at", { ...PLAIN, words: told("Begun at"), kind: "time", widget: "time" }],
];

function asked(type, words, value) {
  const made = make("div", "field");
  const input = make("input");
  input.type = type;
  input.id = `card-${type}`;
  input.value = value;
  const label = make("label", "", words);
  label.htmlFor = input.id;
  made.append(label, input);
  return { made, input };
}

// The tick where a measuring begins, and what the card says besides.
export function cardTick() {
  const fields = make("div", "field");
  const options = make("div", "options");
  const line = make("label");
  const tick = make("input");
  tick.type = "checkbox";
  line.append(tick, make("span", "", told("Typed in from a yard card")));
  const more = make("div");
  const [on, at] = [asked("date", told("Day on the card"), today()), asked("time", told("Begun at"), "")];
  more.append(on.made, at.made);
  more.hidden = true;
  tick.addEventListener("change", () => {
    more.hidden = !tick.checked;
  });
  options.append(line);
  fields.append(options, more);
  return {
    fields,
    day: () => (tick.checked ? on.input.value : today()),
    problem: () => (tick.checked && !on.input.value ? told("Write the day that the card has.") : ""),
    readings: () => (tick.checked ? [["source/card", true], ["source/typed_on", today()], ...(at.input.value ? [["source/begun_at", at.input.value]] : [])] : []),
  };
}

export function cardOf(capture, values) {
  if (values["source/card"] !== true) return "";
  const given = { words: dayWords(values["source/measured_on"] || capture.measured_on), words2: values["source/begun_at"] };
  return values["source/begun_at"] ? told("from a yard card of {words}, begun at {words2}", given) : told("from a yard card of {words}", given);
}

// The same for a measuring that was begun without saying so.
export function cardPart(app, capture, values) {
  const { book } = app;
  const made = make("details", "from-card");
  made.append(make("summary", "", told("Typed in from a yard card?")));
  const keep = async (readings) => {
    const entries = readings.map(([field, value]) => {
      const { seen } = book.standing(capture, capture.uuid, "", field);
      return { kind: "reading", uuid: capture.uuid, field, value, seen, words: told("From a yard card") };
    });
    await book.keep(entries);
    app.sync.soon();
  };
  const more = make("div");
  more.hidden = values["source/card"] !== true;
  const choices = { ...PLAIN, words: told("Typed in from a yard card"), kind: "yes_no", widget: "yes_no" };
  const standing = { value: values["source/card"] ?? null };
  made.append(
    fieldFor("source/card", choices, standing, [], async (value) => {
      await keep([["source/card", value], ["source/typed_on", value ? today() : null]]);
      more.hidden = value !== true;
    }),
  );
  for (const [name, described] of FIELDS) {
    const value = values[name] ?? (name === "source/measured_on" ? capture.measured_on : null);
    more.append(fieldFor(name, described, { value }, [], (value) => keep([[name, value]])));
  }
  made.append(more);
  return made;
}
