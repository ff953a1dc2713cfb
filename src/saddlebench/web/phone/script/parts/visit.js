// One visit: its steps with every field of the catalogue, the saddles tried, and what stops the fitting.
import { fieldFor, fill } from "./fields.js";
import { backTo, dayWords, deed, deeds, link, make, many, row, rows, told } from "./words.js";

function missing(place) {
  place.append(backTo(told("All visits"), "#/"), make("h1", "", told("Not on this phone")), make("p", "", told("This visit was not taken along. With the server in reach, ask for news on the first page.")));
}

export function valuesOf(book, base, uuid, saddle, fields) {
  const values = {};
  for (const name of Object.keys(fields)) values[name] = book.standing(base, uuid, saddle, name).value;
  return values;
}

// What stops this fitting: said outright, or following from answers, by the program's own table.
export function stopsOf(book, visit) {
  const { fields, stop_rules: rules } = book.carried;
  const values = valuesOf(book, visit, visit.uuid, "", fields.visit);
  const causes = [];
  for (const name of ["stops_vet_first", "stops_not_today", "stops_do_not_ride"]) {
    for (const one of values[name] || []) causes.push(wordsOf(fields.visit, name, one));
  }
  const follow = (list, held) => {
    for (const { field, values: stopping, kind, cause } of list) {
      // Of marks that were felt, one of such a kind is enough.
      const answers = Array.isArray(held[field]) ? held[field].map((one) => one.kind) : [held[field]];
      if (answers.some((one) => one !== null && one !== undefined && stopping.includes(one))) causes.push(wordsOf(fields.visit, kind, cause));
    }
  };
  follow(rules.visit, values);
  for (const tried of book.triedAt(visit)) {
    follow(rules.saddle, valuesOf(book, tried, visit.uuid, tried.saddle.uuid, fields.saddle));
  }
  return [...new Set(causes)];
}

function wordsOf(fields, name, choice) {
  return fields[name]?.choices.find(([value]) => value === choice)?.[1] || choice;
}

function stopNote(book, visit) {
  const causes = stopsOf(book, visit);
  const note = make("div", "stop-note");
  note.hidden = !causes.length;
  if (causes.length) {
    note.className = "problem stop-note";
    note.setAttribute("role", "alert");
    note.append(make("p", "", `✕ ${told("This fitting is stopped: {words}.", { words: causes.join(", ") })}`), make("p", "", told("No fit check today, whatever the numbers. Signs of pain, lameness, wounds or sudden change: the veterinary surgeon first.")));
  }
  return note;
}

export function showVisit(app, place, uuid) {
  const { book } = app;
  const visit = book.visit(uuid);
  if (!visit || !book.carried) return missing(place);
  const draw = () => {
    const steps = book.carried.steps.filter((one) => one.name !== "stop");
    const captures = book.captures.filter((one) => one.visit === uuid);
    const photos = book.photos.filter((one) => one.visit === uuid);
    const tried = book.triedAt(visit);
    place.replaceChildren(
      backTo(told("All visits"), "#/"),
      make("h1", "", visit.label),
      make("p", "under", [dayWords(visit.day), visit.place].filter(Boolean).join(" · ")),
      stopNote(book, visit),
      deeds(link(told("Measure the back"), `#/visit/${uuid}/measure`, "button"), link(told("Photos"), `#/visit/${uuid}/photos`, "button quiet"), link(`✕ ${told("Stop this fitting")}`, `#/visit/${uuid}/step/stop`, "button grave")),
      make("h2", "", told("Steps")),
      rows(steps.map((one) => stepRow(book, visit, one))),
      make("h2", "", told("The back")),
      captures.length ? rows(captures.map((one) => row(`#/measure/${one.uuid}`, one.label, one.instrument.label, "⌒"))) : make("p", "empty", told("Not measured yet.")),
      make("h2", "", told("Saddles tried")),
      rows(tried.map((one) => saddleRow(book, visit, one)).flat()),
      addSaddle(app, visit, tried),
      make("p", "note", photos.length ? many(photos.length, "{number} photo taken here with this phone.", "{number} photos taken here with this phone.") : told("No photo was taken here yet.")),
    );
  };
  draw();
  app.changed = draw;
}

function filled(book, base, uuid, saddle, groups, fields) {
  const names = groups.flatMap((one) => one.fields).filter((name) => fields[name]);
  const values = valuesOf(book, base, uuid, saddle, Object.fromEntries(names.map((name) => [name, fields[name]])));
  const n = names.filter((name) => values[name] !== null && values[name] !== undefined).length;
  return [n ? "≈" : "○", told("{number} of {number2} said", { number: n, number2: names.length })];
}

function stepRow(book, visit, step) {
  const [sign, words] = filled(book, visit, visit.uuid, "", step.groups, book.carried.fields.visit);
  return row(`#/visit/${visit.uuid}/step/${step.name}`, step.words, words, sign);
}

function saddleRow(book, visit, tried) {
  return book.carried.saddle_parts.map((part) => {
    const [sign, words] = filled(book, tried, visit.uuid, tried.saddle.uuid, part.groups, book.carried.fields.saddle);
    return row(`#/visit/${visit.uuid}/saddle/${tried.saddle.uuid}/${part.name}`, `${tried.saddle.label}: ${part.words}`, words, sign);
  });
}

function addSaddle(app, visit, tried) {
  const { book } = app;
  const left = book.carried.saddles.filter((one) => !tried.some((other) => other.saddle.uuid === one.uuid));
  if (!left.length) return make("p", "note", told("No further saddle was taken along."));
  const line = make("p", "deeds");
  const select = make("select");
  select.setAttribute("aria-label", told("Saddle to try"));
  fill(select, left.map((one) => [one.uuid, one.label]));
  line.append(
    select,
    deed(told("Try this saddle"), "quiet", async () => {
      const saddle = left.find((one) => one.uuid === select.value);
      const thing = { uuid: `${visit.uuid}/${saddle.uuid}`, kind: "tried", visit: visit.uuid, saddle, revision: 0, values: {} };
      await book.keep([{ kind: "try", uuid: visit.uuid, saddle: saddle.uuid, words: told("Tried: {name}", { name: saddle.label }) }], [thing]);
      app.sync.go();
    }),
  );
  return line;
}

export function showStep(app, place, uuid, name) {
  const { book } = app;
  const visit = book.visit(uuid);
  const step = book.carried?.steps.find((one) => one.name === name);
  if (!visit || !step) return missing(place);
  const note = make("div");
  const draw = () => note.replaceChildren(stopNote(book, visit));
  draw();
  app.changed = draw;
  place.append(backTo(visit.label, `#/visit/${uuid}`), make("h1", "", step.words), note);
  place.append(...groups(app, visit, visit, "", step.groups, book.carried.fields.visit));
  place.append(following(book, uuid, name));
}

function following(book, uuid, name) {
  const steps = book.carried.steps.filter((one) => one.name !== "stop");
  const next = steps[steps.findIndex((one) => one.name === name) + 1];
  return next && name !== "stop" ? deeds(link(told("Next: {words}", { words: next.words }), `#/visit/${uuid}/step/${next.name}`, "button")) : deeds(link(told("Back to the visit"), `#/visit/${uuid}`, "button"));
}

export function showSaddle(app, place, uuid, saddle, name) {
  const { book } = app;
  const visit = book.visit(uuid);
  const tried = visit && book.triedAt(visit).find((one) => one.saddle.uuid === saddle);
  const part = book.carried?.saddle_parts.find((one) => one.name === name);
  if (!tried || !part) return missing(place);
  const note = make("div");
  const draw = () => note.replaceChildren(stopNote(book, visit));
  draw();
  app.changed = draw;
  place.append(backTo(visit.label, `#/visit/${uuid}`), make("h1", "", `${tried.saddle.label}: ${part.words}`), note);
  place.append(...groups(app, visit, tried, saddle, part.groups, book.carried.fields.saddle));
  place.append(deeds(link(told("Back to the visit"), `#/visit/${uuid}`, "button")));
}

function groups(app, visit, base, saddle, list, fields) {
  const { book } = app;
  return list
    .map((group) => [group, group.fields.filter((name) => fields[name])])
    .filter(([, names]) => names.length)
    .map(([group, names]) => {
      const made = make("section", "sheet");
      made.append(make("h2", "", group.words));
      for (const name of names) {
        const standing = book.standing(base, visit.uuid, saddle, name);
        const save = async (value) => {
          const { seen } = book.standing(base, visit.uuid, saddle, name);
          await book.keep([{ kind: "value", uuid: visit.uuid, saddle, field: name, value, seen, words: fields[name].words }]);
          app.sync.soon();
        };
        made.append(fieldFor(name, fields[name], standing, book.carried.places, save));
      }
      return made;
    });
}
