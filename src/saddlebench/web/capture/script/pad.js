// Measuring by number pad: one number fills the screen, each is saved as it is entered.
import { Queue } from "./parts/queue.js";
import { outOfRange, readNumber } from "./parts/number.js";
import { Screen, deed, make, vibrate } from "./parts/screen.js";

const page = document.querySelector("[data-measuring]");
const form = page?.querySelector("[data-readings]");
if (page && form && !("finished" in page.dataset)) begin();

function begin() {
  const part = page.dataset.part;
  const fields = [...form.querySelectorAll("input[data-on-pad]")];
  const draftKey = `saddlebench.typing.${page.dataset.measuring}.${part}`;
  const savedLine = page.querySelector("[data-saved]");
  const state = { revision: Number(page.dataset.revision), at: 0, text: "", confirmed: "", leaving: "" };
  let moved = Number(page.dataset.moved) || 0;

  const queue = new Queue(page.dataset.measuring, told);
  for (const field of form.querySelectorAll("[data-name]")) {
    const waiting = queue.waitingFor(field.name);
    if (waiting && field.type !== "radio") field.value = waiting.text;
    if (waiting && field.type === "radio") field.checked = field.value === waiting.text;
    field.addEventListener("change", () => enter(field.name, field.value));
  }
  if (!fields.length) return queue.send();

  const screen = new Screen(page.querySelector("[data-pad-place]"), pressed);
  screen.more.append(...deeds());
  page.classList.add("with-pad");
  document.addEventListener("keydown", typed);
  const list = deed("Back to the number pad", "quiet list-to-pad", () => show(true));
  form.prepend(list);
  restore();
  queue.tell({});
  queue.send();

  function deeds() {
    const made = [];
    if (fields.some((field) => field.dataset.side === "off")) {
      made.push(deed("Rest of this side not read", "quiet", restOfSide));
    }
    if ("isSection" in page.dataset) made.push(deed("Horse moved", "quiet", horseMoved));
    made.push(deed("All fields as a list", "quiet", () => show(false)));
    return made;
  }

  function show(asPad) {
    page.classList.toggle("with-pad", asPad);
    screen.pad.parentElement.hidden = !asPad;
    if (asPad) go(state.at);
    else list.focus();
  }

  function restore() {
    const draft = JSON.parse(localStorage.getItem(draftKey) || "null");
    const of = draft ? fields.findIndex((field) => field.name === draft.field) : -1;
    const empty = fields.findIndex((field) => !field.value);
    if (of >= 0) go(of, draft.text);
    else if (empty >= 0) go(empty);
    else end();
  }

  function go(at, text) {
    const field = fields[at];
    const turned = field.dataset.side !== fields[state.at].dataset.side;
    state.at = at;
    state.text = text ?? field.value;
    state.fresh = text === undefined;
    state.confirmed = "";
    screen.ask(field, state.text, `${at + 1} of ${fields.length}`);
    if (turned) vibrate([30, 40, 30]);
    screen.number.focus({ preventScroll: true });
  }

  function edit(text) {
    state.text = text;
    state.fresh = false;
    state.confirmed = "";
    screen.show(text);
    screen.say("");
    localStorage.setItem(draftKey, JSON.stringify({ field: fields[state.at].name, text }));
  }

  function pressed(name) {
    vibrate(10);
    if (name === "next") return next();
    if (name === "before") return state.at > 0 ? leave(state.at - 1) : undefined;
    // A number that is there already is written over by the first digit, as on every pad.
    const text = state.fresh && name !== "back" ? "" : state.text;
    if (name === "back") edit(state.text.slice(0, -1));
    else if (name === "minus") edit(text.startsWith("-") ? text.slice(1) : `-${text}`);
    else if (text.length < 10) edit(text + ({ comma: ",", point: "." }[name] || name));
  }

  function typed(event) {
    const inField = event.target.closest("input, textarea, select, dialog, [contenteditable]");
    if (inField || event.ctrlKey || event.metaKey || event.altKey || screen.pad.parentElement.hidden) return;
    if (screen.pad.hidden) return;
    const names = { Backspace: "back", "-": "minus", "−": "minus", ",": "comma", ".": "point", ArrowLeft: "before", ArrowRight: "next" };
    const name = /^\d$/.test(event.key) ? event.key : names[event.key];
    const onDeed = event.target.closest("button, a, summary");
    if (event.key === "Enter" && !onDeed) pressed("next");
    else if (name) pressed(name);
    else return;
    event.preventDefault();
  }

  function check() {
    const field = fields[state.at];
    if (state.text === field.value) return true;
    const read = readNumber(state.text);
    if (read.wrong) return warn(read.wrong);
    if (read.ask) {
      const choices = read.ask.map((text, i) =>
        deed(i ? `${read.decimal}` : read.whole, "", () => {
          edit(text);
          next();
        }),
      );
      return warn(`“${state.text}” can be read two ways. Which is it?`, choices);
    }
    const beyond = read.blank ? "" : outOfRange(read.number, field);
    if (beyond && state.confirmed !== state.text) {
      state.confirmed = state.text;
      return warn(beyond);
    }
    field.value = state.text;
    enter(field.name, state.text);
    return true;
  }

  function warn(words, choices) {
    vibrate([60, 50, 60]);
    screen.say(words, choices);
    return false;
  }

  function next() {
    if (!check()) return;
    localStorage.removeItem(draftKey);
    if (state.at + 1 < fields.length) go(state.at + 1);
    else end();
  }

  function leave(at) {
    if (!check()) return;
    localStorage.removeItem(draftKey);
    go(at);
  }

  function restOfSide() {
    const side = fields[state.at].dataset.side;
    if (!check()) return;
    localStorage.removeItem(draftKey);
    const other = fields.findIndex((field, i) => i > state.at && field.dataset.side !== side);
    if (other >= 0) go(other);
    else end();
  }

  function enter(field, text) {
    queue.add(page.dataset.save, [[field, text]], state.revision);
  }

  function horseMoved() {
    const taken = [...form.querySelectorAll("[data-name]")].filter((field) =>
      field.type === "radio" ? field.checked : field.value,
    );
    moved += 1;
    const readings = [...new Set(taken.map((field) => field.name))].map((name) => [name, ""]);
    queue.add(page.dataset.save, [...readings, [`${part}/moved`, String(moved)], [`${part}/done`, ""]], state.revision);
    for (const field of taken) {
      if (field.type === "radio") field.checked = false;
      else field.value = "";
    }
    localStorage.removeItem(draftKey);
    go(0);
    screen.say("Marked: the horse moved. Read this section again from its first reading.");
    vibrate([80, 60, 80]);
  }

  function end() {
    const isSection = "isSection" in page.dataset;
    const blank = fields.filter((field) => !field.value);
    if (isSection && blank.length < fields.length) enter(`${part}/done`, "yes");
    const content = [];
    if (blank.length) {
      const named = blank.slice(0, 3).map((field) => [field.dataset.side, field.dataset.words].filter(Boolean).join(" "));
      content.push(make("p", "", `${blank.length} not read: ${named.join(", ")}${blank.length > 3 ? ", …" : ""}.`));
    }
    if (isSection) content.push(square());
    const on = page.dataset.following ? `Next: ${page.dataset.followingWords}` : "All parts";
    const onward = deed(on, "onward", () => goOn(page.dataset.following || page.dataset.overview));
    const row = make("p", "pad-end-deeds");
    row.append(onward, deed("Back to the readings", "quiet", () => go(Math.max(fields.length - 1, 0))));
    if (isSection) row.append(deed("Horse moved", "quiet", horseMoved));
    row.append(deed("All parts", "quiet", () => goOn(page.dataset.overview)));
    content.push(row, make("p", "pad-waiting"));
    screen.finish(blank.length === fields.length ? "Nothing read here" : "Read to its end", content);
    onward.focus({ preventScroll: true });
  }

  function square() {
    const made = make("fieldset", "pad-square");
    made.append(make("legend", "", "Square, on all four?"));
    for (const [value, words] of [["yes", "Yes, square"], ["no", "No"]]) {
      const kept = form.querySelector(`input[name="${part}/square"][value="${value}"]`);
      const choice = deed(words, kept.checked ? "chosen" : "quiet", () => {
        kept.checked = true;
        enter(kept.name, value);
        for (const one of made.querySelectorAll("button")) {
          const mine = one === choice;
          one.className = mine ? "chosen" : "quiet";
          one.setAttribute("aria-pressed", String(mine));
        }
        vibrate(10);
      });
      choice.setAttribute("aria-pressed", String(kept.checked));
      made.append(choice);
    }
    return made;
  }

  function goOn(url) {
    state.leaving = url;
    queue.tell({});
    queue.send();
  }

  function told({ waiting, since, answer, url, offline, signedOut, stopped }) {
    if (answer && url === page.dataset.save) take(answer);
    else if (answer) state.revision = answer.revision;
    if (!waiting && state.leaving) {
      location.assign(state.leaving);
      return;
    }
    savedLine.classList.toggle("unsent", waiting > 0 && Boolean(offline || signedOut || stopped));
    if (waiting) {
      const many = `${waiting} reading${waiting > 1 ? "s" : ""}`;
      const why = signedOut ? "You were signed out." : offline ? "No answer yet; it is tried again." : "";
      savedLine.textContent = stopped || (why ? `… ${many} kept in this browser since ${since}. ${why}` : `… ${many} on the way`);
    } else if (answer) {
      savedLine.textContent = `✓ saved at ${answer.saved_at}`;
    }
    const note = page.querySelector(".pad-waiting");
    if (note) note.textContent = state.leaving && waiting ? `Waiting until ${waiting} not yet sent is saved, then on.` : "";
  }

  function take(answer) {
    state.revision = answer.revision;
    const waiting = new Set(queue.items.map((one) => one.field));
    for (const field of form.querySelectorAll("[data-name]")) {
      const text = answer.values[field.name];
      if (text === undefined || waiting.has(field.name)) continue;
      if (field.type === "radio") field.checked = field.value === text;
      else if (field !== document.activeElement && !isSame(field.value, text)) field.value = text;
    }
    // Somebody else's reading of the field that is asked just now, if nothing was typed over it yet.
    if (state.fresh && !screen.pad.hidden && !waiting.has(fields[state.at].name)) {
      state.text = fields[state.at].value;
      screen.show(state.text);
    }
    for (const place of form.querySelectorAll("[data-problem]")) {
      const found = answer.problems.find((one) => one.field === place.dataset.problem);
      place.hidden = !found;
      place.textContent = found ? `✕ ${found.words}` : "";
    }
    draw(answer);
    if (!answer.problems.length) return;
    const first = answer.problems[0];
    const of = fields.findIndex((field) => field.name === first.field);
    const words = of >= 0 ? `${fields[of].dataset.words}: ${first.words}` : first.words;
    if (of >= 0) go(of);
    warn(words);
  }

  function draw(answer) {
    const picture = page.querySelector("[data-picture]");
    if (picture && answer.picture) picture.innerHTML = answer.picture;
    const growing = page.querySelector("[data-growing]");
    if (growing) growing.innerHTML = answer.growing;
    if (growing && answer.picture) growing.parentElement.hidden = false;
    const remarks = page.querySelector("[data-remarks]");
    if (!remarks) return;
    const before = remarks.textContent;
    remarks.replaceChildren(...answer.remarks.map((words) => make("li", "", `! ${words}`)));
    if (answer.remarks.length && remarks.textContent !== before) vibrate([60, 50, 60]);
  }
}

function isSame(typed, kept) {
  return typed === kept || (typed !== "" && kept !== "" && Number(typed.replace(",", ".")) === Number(kept));
}
