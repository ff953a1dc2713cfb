// The day at the yard: visits carried along or begun here, and a beginning that needs no record of anybody.
import { newKey } from "./book.js";
import { fill } from "./fields.js";
import { backTo, clock, dayWords, deed, deeds, link, make, many, row, rows, today, told } from "./words.js";

const STATES = { open: ["≈", told("under way")], planned: ["○", told("planned")], finished: ["✓", told("finished")] };

export function showToday(app, place) {
  const draw = () => {
    const { book, worker } = app;
    const content = [make("h1", "", told("At the horse"))];
    if (location.pathname !== "/phone/") {
      content.push(make("p", "caution", told("No server answers, so the page that was asked for is not here. This is the phone’s own page: what you enter is kept on the phone.")));
    }
    if (!book.carried) content.push(...firstWords(worker));
    else {
      const given = { name: book.carried.practice.label, words: clock(book.carried.at), words2: dayWords(book.carried.at) };
      const about = told("{name}. Taken along {words}, {words2}.", given);
      content.push(make("p", "under", about));
      content.push(deeds(link(told("Start a visit"), "#/start", "button"), deed(told("Ask the server for news"), "quiet", () => app.sync.news())));
      const visits = book.visits;
      content.push(make("h2", "", told("Visits")));
      if (!visits.length) content.push(make("p", "empty", told("No visit is open or planned. Start one: a horse’s name is enough.")));
      content.push(rows(visits.map((one) => visitRow(book, one))));
      const loose = book.captures.filter((one) => !one.visit);
      if (loose.length) {
        content.push(make("h2", "", told("Backs being measured, of no visit")));
        content.push(rows(loose.map((one) => row(`#/measure/${one.uuid}`, one.label, one.instrument.label, "⌒"))));
      }
    }
    if (worker.lacking) {
      content.push(make("p", "caution", `! ${told("This page will not start again without the server: {words}. What you enter is kept on the phone as long as this page stays open or can be loaded.", { words: worker.lacking })}`));
      if (!isSecureContext) content.push(deeds(link(told("Let this phone trust the laptop"), "/trust/", "button quiet")));
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
    make("p", "lead", told("Nothing was taken along yet.")),
    make("p", "", told("With the laptop in reach, sign in once; today’s visits, horses and instruments then come along, and everything you enter at the horse is kept on this phone until it is sent.")),
    deeds(link(told("Sign in"), "/sign-in/?next=/phone/", "button")),
  ];
}

function visitRow(book, visit) {
  const [sign, words] = STATES[visit.state] || ["●", told("begun on this phone")];
  const unsent = book.unsent.filter((one) => one.uuid === visit.uuid).length;
  const detail = [dayWords(visit.day), words, visit.place, unsent ? many(unsent, "{number} entry not sent", "{number} entries not sent") : ""];
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
  fill(purpose, book.carried?.purposes || [["first", told("First visit")]]);
  const labels = [["horse", told("Horse")], ["purpose", told("Purpose")]].map(([id, words]) => {
    const label = make("label", "", words);
    label.htmlFor = id;
    return label;
  });
  const said = make("p", "problem");
  said.hidden = true;
  const begin = make("button", "", told("Start"));
  begin.type = "submit";
  const hint = make("p", "hint", told("A name is enough: one that is not in the list becomes a new horse. Owner and the rest can be said later."));
  form.append(labels[0], horse, list, hint, labels[1], purpose, said, deeds(begin));
  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    const name = horse.value.trim();
    if (!name) {
      said.hidden = false;
      said.textContent = `✕ ${told("Write the horse’s name.")}`;
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
  place.append(backTo(told("All visits"), "#/"), make("h1", "", told("Start a visit")), make("p", "under", told("Dated {words}, as this phone’s clock has it.", { words: dayWords(Date.now()) })), form);
}

async function begun(book, name, purpose) {
  const known = (book.carried?.horses || []).find((one) => one.label.toLowerCase() === name.toLowerCase());
  const horse = known || { uuid: newKey(), label: name };
  const uuid = newKey();
  const entries = known ? [] : [{ kind: "horse", uuid: horse.uuid, label: name, words: told("New horse: {name}", { name }) }];
  entries.push({ kind: "visit", uuid, on: today(), purpose, horse: horse.uuid, words: told("Visit to {name}", { name }) });
  const thing = { uuid, kind: "visit", label: name, horse, day: today(), state: "here", place: "", revision: 0, values: {}, tried: [] };
  await book.keep(entries, [thing]);
  return uuid;
}
