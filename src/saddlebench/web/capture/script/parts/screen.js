// The pad as it stands on the screen: what is asked, the number, the keys.
import { told } from "../../../base/script/parts/told.js";

const KEYS = [
  ["7", "8", "9", "back"],
  ["4", "5", "6", "minus"],
  ["1", "2", "3", "comma"],
  ["before", "0", "point", "next"],
];
const FACES = {
  back: ["⌫", told("Take the last digit back")],
  minus: ["−", told("Minus")],
  comma: [",", told("Decimal comma")],
  point: [".", told("Decimal point")],
  before: ["←", told("The field before")],
  next: [told("Next"), told("Next")],
};

export function make(tag, classes, words) {
  const made = document.createElement(tag);
  if (classes) made.className = classes;
  if (words) made.textContent = words;
  return made;
}

export function deed(words, classes, done) {
  const made = make("button", classes, words);
  made.type = "button";
  made.addEventListener("click", done);
  return made;
}

export class Screen {
  constructor(place, pressed) {
    this.pad = make("section", "pad");
    this.pad.setAttribute("aria-label", told("Number pad"));
    this.side = make("p", "pad-side");
    this.words = make("p", "pad-words");
    this.words.id = "pad-words";
    this.hint = make("p", "pad-hint");
    this.number = make("output", "pad-number");
    this.number.tabIndex = 0;
    this.number.setAttribute("aria-labelledby", "pad-side pad-words");
    this.side.id = "pad-side";
    this.unit = make("span", "pad-unit");
    this.said = make("div", "pad-said");
    this.said.setAttribute("role", "alert");
    const shown = make("p", "pad-shown");
    shown.append(this.number, this.unit);
    this.keys = make("div", "pad-keys");
    for (const name of KEYS.flat()) this.keys.append(this.key(name, pressed));
    this.more = make("p", "pad-more");
    this.pad.append(this.side, this.words, this.hint, shown, this.said, this.keys, this.more);
    this.end = make("section", "pad-end");
    this.end.setAttribute("aria-label", told("This part is read"));
    this.end.hidden = true;
    place.append(this.pad, this.end);
    place.hidden = false;
  }

  key(name, pressed) {
    const [face, words] = FACES[name] || [name, name];
    const made = deed(face, `pad-key pad-${/\d/.test(name) ? "digit" : name}`, () => pressed(name));
    made.dataset.key = name;
    if (FACES[name] && name !== "next") made.setAttribute("aria-label", words);
    return made;
  }

  ask(field, text, place) {
    const side = field.dataset.side;
    const words = { near: told("NEAR (left)"), off: told("OFF (right)"), middle: told("MIDDLE") }[side] || "";
    this.pad.dataset.side = side || "none";
    this.side.textContent = words;
    this.words.textContent = `${field.dataset.words}`;
    this.hint.textContent = [place, field.dataset.hint].filter(Boolean).join(" · ");
    this.unit.textContent = field.dataset.unit;
    this.show(text);
    this.say("");
    this.pad.hidden = false;
    this.end.hidden = true;
  }

  show(text) {
    this.number.textContent = text.replace("-", "−") || "0";
    this.number.classList.toggle("empty", !text);
  }

  say(words, deeds = []) {
    this.said.textContent = words;
    this.said.hidden = !words;
    if (deeds.length) {
      const row = make("p", "pad-choices");
      row.append(...deeds);
      this.said.append(row);
    }
  }

  finish(title, content) {
    this.pad.hidden = true;
    this.end.hidden = false;
    this.end.replaceChildren(make("h2", "", title), ...content);
  }
}

export function vibrate(pattern) {
  // Never a sound: a horse stands beside it.
  navigator.vibrate?.(pattern);
}
