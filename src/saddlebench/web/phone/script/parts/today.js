// The day at the yard: visits carried along or begun here, and a beginning that needs no record of anybody.
import { newKey } from "./book.js";
import { fill } from "./fields.js";
import { backTo, clock, deed, deeds, link, make, many, row, rows, today } from "./words.js";

const STATES = { open: ["≈", "under way"], planned: ["○", "planned"], finished: ["✓", "finished"] };

export function showToday(app, place) {
  const draw = () => {
    const { book, worker } = app;
    const content = [make("h1", "", "At the horse")];
    if (location.pathname !== "/phone/") {
      content.push(make("p", "caution", "No server answers, so the page that was asked for is not here. This is the phone’s own page: what you enter is kept on the phone."));
    }
    if (!book.carried) content.push(...firstWords(worker));
    else {
      const about = `${book.carried.practice.label}. Taken along ${clock(book.carried.at)}, ${new Date(book.carried.at).toDateString()}.`;
      content.push(make("p", "under", about));
      content.push(deeds(link("Start a visit", "#/start", "button"), deed("Ask the server for news", "quiet", () => app.sync.news())));
      const visits = book.visits;
      content.push(make("h2", "", "Visits"));
      if (!visits.length) content.push(make("p", "empty", "No visit is open or planned. Start one: a horse’s name is enough."));
      content.push(rows(visits.map((one) => visitRow(book, one))));
      const loose = book.captures.filter((one) => !one.visit);
      if (loose.length) {
        content.push(make("h2", "", "Backs being measured, of no visit"));
        content.push(rows(loose.map((one) => row(`#/measure/${one.uuid}`, one.label, one.instrument.label, "⌒"))));
      }
    }
    if (worker.lacking) {
      content.push(make("p", "caution", `! This page will not start again without the server: ${worker.lacking}. What you enter is kept on the phone as long as this page stays open or can be loaded.`));
      if (!isSecureContext) content.push(deeds(link("Let this phone trust the laptop", "/trust/", "button quiet")));
    }
    place.replaceChildren(...content);
  };
  draw();
  app.changed = draw;
  app.worker.listeners.add(draw);
  app.leave = () => app.worker.listeners.delete(draw);
}

function firstWords() {
  return [
    make("p", "lead", "Nothing was taken along yet."),
    make("p", "", "With the laptop in reach, sign in once; today’s visits, horses and instruments then come along, and everything you enter at the horse is kept on this phone until it is sent."),
    deeds(link("Sign in", "/sign-in/?next=/phone/", "button")),
  ];
}

function visitRow(book, visit) {
  const [sign, words] = STATES[visit.state] || ["●", "begun on this phone"];
  const unsent = book.unsent.filter((one) => one.uuid === visit.uuid).length;
  const detail = [visit.day, words, visit.place, unsent ? `${many(unsent, "entry", "entries")} not sent` : ""];
  return row(`#/visit/${visit.uuid}`, visit.label, detail.filter(Boolean).join(" · "), sign);
}

export function showStart(app, place) {
  const { book } = app;
  const form = make("form", "sheet");
  const horse = make("input");
  horse.id = "horse";
  horse.autocomplete = "off";
  horse.setAttribute("list", "horses");
  const list = make("datalist");
  list.id = "horses";
  for (const one of book.carried?.horses || []) {
    const option = make("option");
    option.value = one.label;
    list.append(option);
  }
  const purpose = make("select");
  purpose.id = "purpose";
  fill(purpose, book.carried?.purposes || [["first", "First visit"]]);
  const labels = [["horse", "Horse"], ["purpose", "Purpose"]].map(([id, words]) => {
    const label = make("label", "", words);
    label.htmlFor = id;
    return label;
  });
  const said = make("p", "problem");
  said.hidden = true;
  const begin = make("button", "", "Start");
  begin.type = "submit";
  const hint = make("p", "hint", "A name is enough: one that is not in the list becomes a new horse. Owner and the rest can be said later.");
  form.append(labels[0], horse, list, hint, labels[1], purpose, said, deeds(begin));
  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    const name = horse.value.trim();
    if (!name) {
      said.hidden = false;
      said.textContent = "✕ Write the horse’s name.";
      horse.focus();
      return;
    }
    begin.disabled = true;
    try {
      const uuid = await begun(book, name, purpose.value);
      app.sync.go();
      location.replace(`#/visit/${uuid}`);
    } catch (error) {
      said.hidden = false;
      said.textContent = `✕ ${error.message}`;
      begin.disabled = false;
    }
  });
  const day = new Date().toDateString();
  place.append(backTo("All visits", "#/"), make("h1", "", "Start a visit"), make("p", "under", `Dated ${day}, as this phone’s clock has it.`), form);
}

async function begun(book, name, purpose) {
  const known = (book.carried?.horses || []).find((one) => one.label.toLowerCase() === name.toLowerCase());
  const horse = known || { uuid: newKey(), label: name };
  const uuid = newKey();
  const entries = known ? [] : [{ kind: "horse", uuid: horse.uuid, label: name, words: `New horse: ${name}` }];
  entries.push({ kind: "visit", uuid, on: today(), purpose, horse: horse.uuid, words: `Visit to ${name}` });
  const thing = { uuid, kind: "visit", label: name, horse, day: today(), state: "here", place: "", revision: 0, values: {}, tried: [] };
  await book.keep(entries, [thing]);
  return uuid;
}
