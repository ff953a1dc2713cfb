// Everything that is not sent, what needs a decision, how much room is left, and the file that saves it all.
import { roomKnown, unsentWords } from "./bar.js";
import { sizeWords } from "./bytes.js";
import { askToStay } from "./store.js";
import { unsentFile } from "./sync.js";
import { age, clock, dayWords, deed, deeds, link, make, many, shownValue, today, told } from "./words.js";
import { renew } from "./worker_guide.js";

export function showUnsent(app, place) {
  const draw = () => {
    const { book, sync } = app;
    const content = [make("h1", "", told("What is kept on this phone"))];
    content.push(make("p", "lead", unsentWords(book) || (book.conflicts.length ? told("Sent, but not all of it is decided.") : `✓ ${told("Everything is sent")}.`)));
    if (book.state.sentAt) content.push(make("p", "under", told("Last sent {words}, {words2}.", { words: clock(book.state.sentAt), words2: dayWords(book.state.sentAt) })));
    content.push(...standingInTheWay(app));
    if (book.conflicts.length) {
      content.push(make("h2", "", told("Needs a decision")));
      content.push(...book.conflicts.map((one) => decision(app, one)));
    }
    for (const one of book.unsentPhotos.filter((photo) => photo.refused)) content.push(refusedPhoto(app, one));
    content.push(
      deeds(
        deed(told("Send now"), "", () => sync.go()),
        deed(told("Save as a file"), "quiet", () => save(app)),
      ),
      make("p", "hint", told("A browser may clear its storage. The file holds everything unsent, photos too; on the laptop it is read in under “Read in what a phone kept”. What was sent meanwhile is not doubled.")),
      ...clockWords(book),
      make("h2", "", told("Room")),
      ...roomWords(),
      make("h2", "", told("Not sent")),
      list(book),
    );
    place.replaceChildren(...content);
  };
  draw();
  app.changed = draw;
  const timer = setInterval(draw, 15_000);
  app.leave = () => clearInterval(timer);
}

function standingInTheWay({ sync, worker }) {
  const { state, words } = sync.said;
  const found = [];
  if (state !== "idle" && state !== "sending") {
    const note = make("div", "caution");
    note.append(make("p", "", words));
    if (state === "signed out" || state === "practice") note.append(link(told("Sign in"), "/sign-in/?next=/phone/%23/unsent", "button"));
    found.push(note);
  }
  if (["version", "newer", "beyond"].includes(state) || worker.newer) {
    const note = make("div", "caution");
    note.append(make("p", "", told("The pages that belong to the laptop’s program can be taken now. What is kept here stays.")), deed(told("Renew the pages"), "", () => renew(worker)));
    found.push(note);
  }
  return found;
}

function decision(app, one) {
  const { book } = app;
  const made = make("section", "sheet decision");
  made.append(make("h3", "", one.words || one.field || one.kind));
  if (one.state === "held") {
    const both = make("dl", "facts");
    both.append(
      make("dt", "", told("Yours, {words}", { words: clock(one.at) })),
      make("dd", "", shownValue(one.value)),
      make("dt", "", told("{name}, {words} (stands now)", { name: one.other.by, words: clock(one.other.at) })),
      make("dd", "", shownValue(one.other.value)),
    );
    made.append(
      both,
      deeds(
        deed(told("Enter mine over it"), "", () => book.decide(one, true).then(() => app.sync.go())),
        deed(told("Leave theirs"), "quiet", () => book.decide(one, false)),
      ),
    );
    return made;
  }
  const list = make("ul", "problems");
  for (const found of one.problems || []) list.append(make("li", "", `${found.what}. ${found.cure}`));
  made.append(
    make("p", "", told("Not taken: {name}, entered {words}", { name: shownValue(one.value ?? one.label), words: clock(one.at) })),
    list,
    deeds(
      deed(told("Try again"), "", () => book.again(one).then(() => app.sync.go())),
      deed(told("Let it go"), "grave", () => book.decide(one, false)),
    ),
  );
  return made;
}

function refusedPhoto(app, photo) {
  const made = make("section", "sheet decision");
  made.append(make("h3", "", photo.label || told("Photo")), make("p", "problem", photo.refused));
  const again = deed(told("Try again"), "", () => app.book.photoTold(photo, { refused: "" }).then(() => app.sync.go()));
  let sure = false;
  const letGo = deed(told("Let it go"), "grave", () => {
    // A photo is not taken twice: once more than a slip of the thumb.
    if (sure) return app.book.dropPhoto(photo);
    sure = true;
    letGo.textContent = told("Let it go: press again, it is then gone");
    return undefined;
  });
  made.append(deeds(again, letGo));
  return made;
}

async function save(app) {
  const file = await unsentFile(app.book);
  const address = URL.createObjectURL(file);
  const made = make("a");
  made.href = address;
  made.download = `saddlebench-unsent-${today()}-${clock(Date.now()).replace(":", "")}.jsonl`;
  document.body.append(made);
  made.click();
  made.remove();
  setTimeout(() => URL.revokeObjectURL(address), 60_000);
}

function clockWords(book) {
  const found = [];
  if (book.state.wentBack) {
    found.push(make("p", "caution", `! ${told("This phone’s clock was set back by {words} while entries were kept. They are sent in the order in which you made them; the hours beside them may be wrong.", { words: duration(book.state.wentBack) })}`));
  }
  const off = book.state.clockOff;
  if (Math.abs(off) > 120_000) {
    const given = { words: duration(Math.abs(off)) };
    const said =
      off < 0
        ? told("This phone’s clock is {words} behind the laptop’s. A visit begun here has this phone’s date: check it.", given)
        : told("This phone’s clock is {words} ahead of the laptop’s. A visit begun here has this phone’s date: check it.", given);
    found.push(make("p", "caution", `! ${said}`));
  }
  return found;
}

function duration(ms) {
  const minutes = Math.round(ms / 60_000);
  if (minutes < 2880) return minutes < 120 ? `${minutes} min` : `${Math.round(minutes / 60)} h`;
  return told("{number} days", { number: Math.round(minutes / 1440) });
}

function roomWords() {
  const { left, used, persisted } = roomKnown();
  if (left === null) return [make("p", "", told("This browser does not say how much room is left. Send often, or save as a file."))];
  const words = make("p", "", told("{words} used, {words2} left: some {number} photos.", { words: sizeWords(used || 0), words2: sizeWords(left), number: Math.floor(left / 4e6) }));
  const promised = `✓ ${told("The browser promised not to clear it by itself.")}`;
  if (persisted) return [words, make("p", "saved", promised)];
  const said = make("p", "hint", told("The browser may clear it when the phone is short of room, or after days without a visit."));
  const ask = deed(told("Ask the browser to keep it"), "quiet", async () => {
    said.textContent = (await askToStay()) ? promised : told("The browser did not promise it. Put this page on the home screen, send often, or save as a file.");
  });
  return [words, said, deeds(ask)];
}

function list(book) {
  const made = make("ul", "rows");
  const shown = book.unsent.slice(-100).reverse();
  for (const one of shown) {
    const item = make("li", "plain-row");
    item.append(make("strong", "", one.words || one.field || one.kind), make("span", "detail", [one.field ? shownValue(one.value) : "", clock(one.at), age(one.at)].filter(Boolean).join(" · ")));
    made.append(item);
  }
  for (const one of book.unsentPhotos) {
    const item = make("li", "plain-row");
    item.append(make("strong", "", one.label || told("Photo")), make("span", "detail", `${sizeWords(one.size)} · ${age(one.at)}`));
    made.append(item);
  }
  if (!made.children.length) made.append(make("li", "plain-row", told("Nothing waits.")));
  if (book.unsent.length > shown.length) made.append(make("li", "plain-row", many(book.unsent.length - shown.length, "and {number} earlier entry", "and {number} earlier entries")));
  return made;
}
