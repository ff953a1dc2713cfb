// One number fills the screen; each is kept on the phone before the next counts as done.
import { outOfRange, readNumber } from "../../../capture/script/parts/number.js";
import { Screen, vibrate } from "../../../capture/script/parts/screen.js";
import { partsOf } from "./asked.js";
import { canReadBack, readBack, readsBack, setReadBack, stayAwake } from "./awake.js";
import { drawSections, emptyPicture } from "./drawing.js";
import { fieldFor } from "./fields.js";
import { verdictCard } from "./measure.js";
import { camera } from "./photos.js";
import { isCoarse, shapeProblems } from "./judge.js";
import { halvesOf } from "./sections.js";
import { plannedSections, sectionOf } from "./readings.js";
import { backTo, clock, deed, figure, link, make, told } from "./words.js";

const DRAFT = "saddlebench.phone.typing";
const SIDE_WORDS = { near: told("near"), off: told("off"), middle: told("middle"), "": "" };

export function showPart(app, place, uuid, key) {
  const { book } = app;
  const capture = book.capture(uuid);
  const parts = capture ? partsOf(capture.instrument, book.readings(capture)) : [];
  const part = parts.find((one) => one.key === key);
  if (!part) {
    place.append(backTo(told("All visits"), "#/"), make("h1", "", told("Not on this phone")));
    return;
  }
  const pad = new PartPad(app, place, capture, parts, part);
  app.leave = () => pad.leave();
  app.changed = () => pad.changed();
}

class PartPad {
  constructor(app, place, capture, parts, part) {
    Object.assign(this, { app, place, capture, parts, part, book: app.book });
    this.fields = part.asked.filter((one) => one.on_pad && one.kind === "number");
    this.at = 0;
    this.text = "";
    this.confirmed = "";
    this.keeping = 0;
    this.sleep = stayAwake();
    document.body.classList.add("on-pad");
    this.build();
    this.typed = (event) => this.key(event);
    document.addEventListener("keydown", this.typed);
    this.restore();
    this.draw();
  }

  leave() {
    this.sleep();
    document.removeEventListener("keydown", this.typed);
    document.body.classList.remove("on-pad");
  }

  get values() {
    return this.book.readings(this.capture);
  }

  build() {
    const { part, capture } = this;
    const head = make("div", "measuring-head");
    head.append(link(`← ${told("All parts")}`, `#/measure/${capture.uuid}`, "back-link"), make("h1", "", part.words), make("p", "under", part.detail));
    this.saved = make("p", "saved-line");
    this.saved.setAttribute("role", "status");
    const figure = make("figure", "picture section-picture");
    this.picture = emptyPicture(told("{words} as it is read, from behind", { words: part.words }));
    figure.append(this.picture);
    figure.hidden = !part.isSection;
    this.remarks = make("ul", "remarks");
    const pad = make("div");
    this.place.append(head, this.saved, figure, this.remarks, pad);
    this.screen = new Screen(pad, (name) => this.pressed(name));
    if (part.isSection) this.screen.more.append(deed(told("Horse moved"), "quiet", () => this.horseMoved()));
    if (this.fields.some((one) => one.side === "off")) this.screen.more.append(deed(told("Rest of this side not read"), "quiet", () => this.restOfSide()));
    this.screen.more.append(deed(told("Read no further here"), "quiet", () => this.check() && this.end()));
    if (canReadBack()) this.screen.more.append(this.readBackDeed());
  }

  readBackDeed() {
    const words = () => (readsBack() ? told("Reading back aloud: on") : told("Reading back aloud: off"));
    const made = deed(words(), "quiet", () => {
      setReadBack(!readsBack());
      made.textContent = words();
      made.setAttribute("aria-pressed", String(readsBack()));
    });
    made.setAttribute("aria-pressed", String(readsBack()));
    return made;
  }

  textOf(field) {
    const held = this.values[field.name];
    return held === undefined ? "" : figure(held);
  }

  restore() {
    let draft = null;
    try {
      draft = JSON.parse(localStorage.getItem(DRAFT) || "null");
    } catch {
      draft = null;
    }
    // A killed browser may bring back an older draft than the last: one of a field that was kept since is over.
    const isMine = (one) => draft && draft.uuid === this.capture.uuid && one.name === draft.field && this.textOf(one) === "";
    const mine = this.fields.findIndex(isMine);
    const empty = this.fields.findIndex((one) => this.textOf(one) === "");
    if (mine >= 0 && draft.text) {
      this.go(mine, draft.text);
      this.screen.say(told("“{name}” was being keyed in when the page went. Go on with it, or take it back.", { name: draft.text }));
    } else if (empty >= 0) this.go(empty);
    else this.end();
  }

  go(at, text) {
    const field = this.fields[at];
    const turned = field.side !== this.fields[this.at].side;
    this.at = at;
    this.text = text ?? this.textOf(field);
    this.fresh = text === undefined;
    this.confirmed = "";
    const dataset = { side: field.side, words: field.words, hint: field.hint, unit: field.unit };
    this.screen.ask({ dataset }, this.text, told("{number} of {number2}", { number: at + 1, number2: this.fields.length }));
    if (turned) vibrate([30, 40, 30]);
    this.screen.number.focus({ preventScroll: true });
  }

  edit(text) {
    this.text = text;
    this.fresh = false;
    this.confirmed = "";
    this.screen.show(text);
    this.screen.say("");
    localStorage.setItem(DRAFT, JSON.stringify({ uuid: this.capture.uuid, field: this.fields[this.at].name, text }));
    this.draw();
  }

  pressed(name) {
    vibrate(10);
    if (name === "next") return this.next();
    if (name === "before") return this.at > 0 && this.check() ? this.go(this.at - 1) : undefined;
    const text = this.fresh && name !== "back" ? "" : this.text;
    if (name === "back") return this.edit(this.text.slice(0, -1));
    if (name === "minus") return this.edit(text.startsWith("-") ? text.slice(1) : `-${text}`);
    if (text.length < 10) this.edit(text + ({ comma: ",", point: "." }[name] || name));
    return undefined;
  }

  key(event) {
    if (event.target.closest("input, textarea, select, [contenteditable]") || event.ctrlKey || event.metaKey || event.altKey || this.screen.pad.hidden) return;
    const names = { Backspace: "back", "-": "minus", "−": "minus", ",": "comma", ".": "point", ArrowLeft: "before", ArrowRight: "next" };
    const name = /^\d$/.test(event.key) ? event.key : names[event.key];
    if (event.key === "Enter" && !event.target.closest("button, a, summary")) this.pressed("next");
    else if (name) this.pressed(name);
    else return;
    event.preventDefault();
  }

  check() {
    const field = this.fields[this.at];
    if (this.text === this.textOf(field)) return true;
    const read = readNumber(this.text);
    if (read.wrong) return this.warn(read.wrong);
    if (read.ask) {
      const choices = read.ask.map((text, i) =>
        deed(i ? figure(read.decimal) : read.whole, "", () => {
          this.edit(figure(text));
          this.next();
        }),
      );
      return this.warn(told("“{name}” can be read two ways. Which is it?", { name: this.text }), choices);
    }
    const range = { dataset: { low: field.low ?? "", high: field.high ?? "", unit: field.unit } };
    const beyond = read.blank ? "" : outOfRange(read.number, range);
    if (beyond && this.confirmed !== this.text) {
      this.confirmed = this.text;
      return this.warn(beyond);
    }
    const value = read.blank ? null : read.number;
    this.pending = this.enter([[field.name, value, [SIDE_WORDS[field.side], field.words].filter(Boolean).join(" ")]]);
    if (!read.blank) readBack(`${SIDE_WORDS[field.side]} ${this.text.replace("-", `${told("minus")} `)}`);
    return true;
  }

  warn(words, choices) {
    vibrate([60, 50, 60]);
    this.screen.say(words, choices);
    return false;
  }

  next() {
    if (!this.check()) return;
    if (this.at + 1 < this.fields.length) this.go(this.at + 1);
    else this.end();
  }

  restOfSide() {
    if (!this.check()) return;
    const { side } = this.fields[this.at];
    const other = this.fields.findIndex((one, i) => i > this.at && one.side !== side);
    if (other >= 0) this.go(other);
    else this.end();
  }

  // Keeps readings; until they are on the disk the line says so, and a failure leads back to the number.
  async enter(readings) {
    const { capture, book } = this;
    const typed = this.text;
    const entries = readings.map(([field, value, words]) => ({
      kind: "reading",
      uuid: capture.uuid,
      field,
      value,
      seen: book.standing(capture, capture.uuid, "", field).seen,
      words: `${this.part.words}: ${words}`,
    }));
    this.keeping += 1;
    this.tell();
    try {
      await book.keep(entries);
      const held = JSON.parse(localStorage.getItem(DRAFT) || "null");
      if (held && readings.some(([field]) => field === held.field) && held.text === typed) localStorage.removeItem(DRAFT);
      this.keptAt = Date.now();
      this.app.sync.soon();
      return true;
    } catch (error) {
      const of = this.fields.findIndex((one) => one.name === readings[0][0]);
      if (of >= 0) this.go(of, typed);
      return this.warn(error.message);
    } finally {
      this.keeping -= 1;
      this.tell();
      this.draw();
    }
  }

  tell() {
    const waits = this.book.unsent.length;
    const where = waits ? told(", {number} not sent", { number: waits }) : "";
    if (this.keeping) this.saved.textContent = `… ${told("being kept on this phone")}`;
    else this.saved.textContent = this.keptAt ? `✓ ${told("kept on this phone {words}", { words: clock(this.keptAt) })}${where}` : "";
  }

  changed() {
    this.tell();
    if (this.fresh && !this.screen.pad.hidden) {
      this.text = this.textOf(this.fields[this.at]);
      this.screen.show(this.text);
    }
  }

  // The curve as it would be with what stands on the pad just now.
  draw() {
    if (!this.part.isSection) return;
    const { geometry } = this.capture.instrument;
    const values = { ...this.values };
    const field = this.fields[this.at];
    const read = readNumber(this.text);
    if (field && !this.screen.pad.hidden && read.number !== undefined) values[field.name] = read.number;
    drawSections(this.picture, geometry, values, this.part.key);
  }

  questionable() {
    const { geometry } = this.capture.instrument;
    const { values } = this;
    const planned = plannedSections(values).find((one) => one.key === this.part.key);
    const section = planned && sectionOf(geometry, planned, values);
    return section ? shapeProblems(halvesOf(geometry, section), this.book.carried.rules.limits, !isCoarse(geometry)) : [];
  }

  async horseMoved() {
    const { part, values } = this;
    const taken = part.asked.filter((one) => values[one.name] !== undefined);
    const times = Number(values[`${part.key}/moved`] || 0) + 1;
    localStorage.removeItem(DRAFT);
    await this.enter([
      ...taken.map((one) => [one.name, null, told("{words}, taken back", { words: one.words })]),
      [`${part.key}/moved`, times, told("horse moved")],
      [`${part.key}/done`, null, told("not done")],
    ]);
    this.remarks.replaceChildren();
    this.go(0);
    this.screen.say(told("Marked: the horse moved. Read this section again from its first reading."));
    vibrate([80, 60, 80]);
  }

  // The end is shown once the last reading is on the disk: the verdict counts it.
  async end() {
    const kept = await (this.pending ?? true);
    this.pending = null;
    if (kept && this.place.contains(this.picture)) this.finish();
  }

  finish() {
    const { part, capture } = this;
    const held = this.values;
    const blank = this.fields.filter((one) => held[one.name] === undefined);
    if (part.isSection && blank.length < this.fields.length && held[`${part.key}/done`] !== true) this.enter([[`${part.key}/done`, true, told("done")]]);
    const content = [];
    if (blank.length) {
      const named = blank.slice(0, 3).map((one) => [SIDE_WORDS[one.side], one.words].filter(Boolean).join(" "));
      content.push(make("p", "", told("{number} not read: {words}", { number: blank.length, words: `${named.join(", ")}${blank.length > 3 ? ", …" : "."}` })));
    }
    if (part.isSection) {
      this.remarks.replaceChildren(...this.questionable().map((one) => make("li", "", `! ${one.what}. ${one.cure}`)));
      if (this.remarks.children.length) vibrate([60, 50, 60]);
      content.push(this.square(), camera(this.app, capture.visit, "", told("{name}: {words}, instrument as set", { name: capture.label, words: part.words }), told("Photograph the instrument as it is set")));
      if (!capture.visit) content.pop();
    }
    content.push(...this.rest());
    const following = this.parts[this.parts.findIndex((one) => one.key === part.key) + 1];
    if (!following || part.repeat) content.push(verdictCard(capture.instrument.geometry, this.values, this.book.carried.rules));
    const row = make("p", "pad-end-deeds");
    const onward = following ? link(told("Next: {words}", { words: following.words }), `#/measure/${capture.uuid}/part/${following.key}`, "button onward") : link(told("All parts"), `#/measure/${capture.uuid}`, "button onward");
    row.append(onward);
    if (this.fields.length) row.append(deed(told("Back to the readings"), "quiet", () => this.go(Math.max(this.fields.length - 1, 0))));
    if (part.isSection) row.append(deed(told("Horse moved"), "quiet", () => this.horseMoved()));
    content.push(row);
    this.screen.finish(blank.length === this.fields.length ? told("Nothing read here") : told("Read to its end"), content);
    this.draw();
    onward.focus({ preventScroll: true });
  }

  square() {
    const name = `${this.part.key}/square`;
    const made = make("fieldset", "pad-square");
    made.append(make("legend", "", told("Square, on all four?")));
    for (const [value, words] of [[true, told("Yes, square")], [false, told("No")]]) {
      const chosen = this.values[name] === value;
      const choice = deed(words, chosen ? "chosen" : "quiet", () => {
        this.enter([[name, value, told("square")]]);
        for (const one of made.querySelectorAll("button")) {
          one.className = one === choice ? "chosen" : "quiet";
          one.setAttribute("aria-pressed", String(one === choice));
        }
        vibrate(10);
      });
      choice.setAttribute("aria-pressed", String(chosen));
      made.append(choice);
    }
    return made;
  }

  // What is rarely needed stands in a list under the numbers.
  rest() {
    const asked = this.part.asked.filter((one) => !this.fields.includes(one) && one.kind !== "yes_no");
    return asked.map((one) => {
      const described = {
        words: one.words,
        kind: one.kind === "number" ? "number" : one.kind,
        widget: { number: "decimal", choice: "choice", text: "long" }[one.kind],
        unit: one.unit,
        low: one.low,
        high: one.high,
        hint: one.hint,
        choices: one.choices,
        required: false,
        max_length: 10_000,
      };
      const standing = { value: this.values[one.name] ?? null };
      const save = (value) => {
        const { seen } = this.book.standing(this.capture, this.capture.uuid, "", one.name);
        return this.book.keep([{ kind: "reading", uuid: this.capture.uuid, field: one.name, value, seen, words: `${this.part.words}: ${one.words}` }]).then(() => this.app.sync.soon());
      };
      return fieldFor(one.name, described, standing, [], save);
    });
  }
}
