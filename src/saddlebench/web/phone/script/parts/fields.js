// Fields of the catalogue as they are filled in at the horse: each is kept when it is left, and says so when it is.
import { readNumber } from "../../../capture/script/parts/number.js";
import { deed, make } from "../../../capture/script/parts/screen.js";
import { clock, figure, told } from "./words.js";

const PAUSE_MS = 3000;

// `save(value)` keeps a value and resolves when it is on the disk.
export function fieldFor(name, described, standing, places, save) {
  const made = make(["yes_no", "choice", "choices"].includes(described.widget) ? "fieldset" : "div", "field");
  made.dataset.field = name;
  const state = make("p", "hint kept-line");
  state.setAttribute("role", "status");
  const keep = keeper(described, standing, state, save);
  const id = `field-${name.replace(/[^\w]/g, "-")}`;
  const unit = described.unit ? ` [${described.unit}]` : "";
  const label = make(made.tagName === "FIELDSET" ? "legend" : "label", "", `${described.words}${unit}`);
  if (label.tagName === "LABEL") label.htmlFor = id;
  const widget = described.kind === "marks" ? "marks" : described.widget;
  const control = (CONTROLS[widget] || CONTROLS.text)({ id, name, described, value: standing.value, keep, places });
  made.append(label, control);
  if (described.hint) made.append(make("p", "hint", described.hint));
  made.append(state);
  return made;
}

function keeper(described, standing, state, save) {
  let last = JSON.stringify(standing.value ?? null);
  return async (read) => {
    state.className = "hint kept-line";
    if (read.wrong) {
      state.textContent = `✕ ${told("Not kept: {words}", { words: read.wrong })}`;
      state.classList.add("field-problem");
      return false;
    }
    const text = JSON.stringify(read.value ?? null);
    if (text === last) return true;
    if (described.required && read.value === null) {
      state.textContent = `✕ ${told("Not kept: {words}", { words: told("this is needed and was left empty.") })}`;
      state.classList.add("field-problem");
      return false;
    }
    state.textContent = `… ${told("being kept")}`;
    try {
      await save(read.value ?? null);
      last = text;
      state.textContent = `✓ ${told("kept on this phone {words}", { words: clock(Date.now()) })}`;
      state.classList.add("saved");
      return true;
    } catch (error) {
      state.textContent = `✕ ${error.message}`;
      state.classList.add("field-problem");
      return false;
    }
  };
}

export function readFor(described, text) {
  const tidy = text.trim();
  if (!tidy) return { value: null };
  if (tidy.length > described.max_length) return { wrong: told("{number} characters are more than the {number2} that fit.", { number: tidy.length, number2: described.max_length }) };
  if (described.kind === "list") return { value: tidy.split("\n").map((one) => one.trim()).filter(Boolean) };
  if (described.kind === "person") return { value: { label: tidy, client: null } };
  if (described.kind !== "number" && described.kind !== "whole") return { value: tidy };
  const read = readNumber(tidy);
  if (read.wrong) return read;
  if (read.ask) {
    const given = { name: tidy, number: read.whole, number2: read.decimal };
    return { wrong: told("“{name}” can be read as {number} or as {number2}; write {number}, or {number2}0.", given) };
  }
  if (described.kind === "whole" && !Number.isInteger(read.number)) return { wrong: told("this is a whole number.") };
  const [low, high] = [described.low, described.high];
  if ((low !== null && read.number < low) || (high !== null && read.number > high)) {
    const given = { number: read.number, number2: low, number3: high, words: described.unit };
    return { wrong: told("{number} is outside {number2} to {number3} {words}. Check number and unit.", given) };
  }
  return { value: read.number };
}

function typed({ id, described, value, keep }, made) {
  made.id = id;
  made.value = textOf(value);
  made.autocomplete = "off";
  const now = () => keep(readFor(described, made.value));
  let timer = 0;
  made.addEventListener("change", () => {
    clearTimeout(timer);
    now();
  });
  // A long text is kept while one pauses for breath, not only when the field is left.
  if (made.tagName === "TEXTAREA") {
    made.addEventListener("input", () => {
      clearTimeout(timer);
      timer = setTimeout(now, PAUSE_MS);
    });
  }
  return made;
}

function input(given, type, mode) {
  const made = make("input");
  made.type = type;
  if (mode) made.inputMode = mode;
  return typed(given, made);
}

function textOf(value) {
  if (value === null || value === undefined) return "";
  if (Array.isArray(value)) return value.join("\n");
  if (typeof value === "object") return value.label || "";
  return typeof value === "number" ? figure(value) : String(value);
}

function choices({ id, described, value, keep }, type, options, chosenValue) {
  const made = make("div", "options");
  options.forEach(([one, words], i) => {
    const label = make("label");
    const box = make("input");
    box.type = type;
    box.name = id;
    box.value = String(one);
    box.id = `${id}-${i}`;
    const held = Array.isArray(value) ? value : [value];
    box.checked = held.includes(one);
    box.addEventListener("change", () => {
      const ticked = [...made.querySelectorAll("input:checked")].map((other) => options[Number(other.id.split("-").pop())][0]);
      keep({ value: chosenValue(ticked) });
    });
    label.append(box, make("span", "", words));
    made.append(label);
  });
  if (type === "radio" && !described.required) {
    made.append(
      deed(told("Not said"), "quiet small", () => {
        for (const box of made.querySelectorAll("input")) box.checked = false;
        keep({ value: null });
      }),
    );
  }
  return made;
}

const DEGREES = ["", told("slight"), told("clear"), told("strong")];

const CONTROLS = {
  text: (given) => input(given, "text"),
  email: (given) => input(given, "email", "email"),
  date: (given) => input(given, "date"),
  time: (given) => input(given, "time"),
  decimal: (given) => input(given, "text", "decimal"),
  whole: (given) => input(given, "text", "numeric"),
  long(given) {
    const made = make("textarea");
    made.rows = 3;
    return typed(given, made);
  },
  yes_no: (given) => choices(given, "radio", [[true, told("Yes")], [false, told("No")]], ([one]) => one ?? null),
  choice: (given) => choices(given, "radio", given.described.choices, ([one]) => one ?? null),
  choices: (given) => choices(given, "checkbox", given.described.choices, (ticked) => (ticked.length ? ticked : null)),
  marks,
};

// Marks on the horse by the names of their places: a list does what a finger on a drawing does.
function marks({ id, described, value, keep, places }) {
  let held = Array.isArray(value) ? [...value] : [];
  const made = make("div", "marks");
  const list = make("ul", "rows");
  const [place, kind, degree] = [make("select"), make("select"), make("select")];
  place.id = id;
  fill(place, places.map((one) => [one.name, one.words]));
  fill(kind, described.choices);
  fill(degree, [1, 2, 3].map((one) => [String(one), DEGREES[one]]));
  kind.setAttribute("aria-label", told("What was found"));
  degree.setAttribute("aria-label", told("How strong"));
  const add = deed(told("Add this mark"), "quiet", () => {
    const at = places.find((one) => one.name === place.value);
    change([...held, { x: at.x, y: at.y, kind: kind.value, degree: Number(degree.value), side: at.side, note: "" }]);
  });
  const line = make("p", "deeds");
  line.append(place, kind, degree, add);
  made.append(list, line);
  draw();
  return made;

  async function change(next) {
    if (await keep({ value: next.length ? next : null })) {
      held = next;
      draw();
    }
  }

  function draw() {
    list.replaceChildren(
      ...held.map((one, i) => {
        const item = make("li", "mark-row");
        const at = nearest(places, one);
        const words = described.choices.find(([name]) => name === one.kind)?.[1] || one.kind;
        item.append(
          make("span", "", `${at.words}: ${words}, ${DEGREES[one.degree] || told("noted")}`),
          deed(told("Take off"), "quiet small", () => change(held.filter((_, j) => j !== i))),
        );
        return item;
      }),
    );
  }
}

function nearest(places, mark) {
  const away = (one) => (one.x - mark.x) ** 2 + (one.y - mark.y) ** 2;
  return places.reduce((best, one) => (away(one) < away(best) ? one : best));
}

function fill(select, options) {
  for (const [value, words] of options) {
    const option = make("option", "", words);
    option.value = value;
    select.append(option);
  }
}

export { fill };
