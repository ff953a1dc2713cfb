// Photos of a visit, kept as the camera made them, and sent in pieces.
import { newKey } from "./book.js";
import { sha256, sizeWords } from "./bytes.js";
import { backTo, clock, make, many, row, rows, told } from "./words.js";

export function showPhotos(app, place, uuid) {
  const { book } = app;
  const visit = book.visit(uuid);
  if (!visit) {
    place.append(backTo(told("All visits"), "#/"), make("h1", "", told("Not on this phone")));
    return;
  }
  place.append(backTo(visit.label, `#/visit/${uuid}`), make("h1", "", told("Photos")));
  // Folded: after a day's photos the list would stand before the cameras.
  const taken = make("details");
  const showTaken = () => {
    const mine = book.photos.filter((one) => one.visit === uuid);
    taken.hidden = !mine.length;
    taken.replaceChildren(make("summary", "", told("Draw on a photo: {words}", { words: many(mine.length, "{number} photo", "{number} photos") })), toDrawOn(book, mine));
  };
  showTaken();
  app.changed = showTaken;
  place.append(taken);
  for (const [name, words] of [...(book.carried?.shots || []), ["", told("Anything else")]]) place.append(shot(app, uuid, name, words));
}

// Photos to draw on: here while they are not sent, on the laptop after.
function toDrawOn(book, mine) {
  const words = Object.fromEntries(book.carried?.shots || []);
  const items = mine.map((one) => {
    const drawn = one.drawn?.length ? many(one.drawn.length, ", {number} mark on it", ", {number} marks on it") : "";
    const name = one.label || words[one.shot] || told("Anything else");
    if (one.state === "sent") return row(`/photos/${one.uuid}/`, name, told("{words}, sent{words2}: draw on it at the laptop’s page", { words: clock(one.at), words2: drawn }), "✓");
    return row(`#/photo/${one.uuid}`, name, told("{words}, not sent{words2}: draw on it", { words: clock(one.at), words2: drawn }), "✎");
  });
  return rows(items);
}

function shot(app, visit, name, words) {
  const made = make("section", "sheet shot");
  made.append(make("h2", "", words));
  const count = make("p", "hint");
  const tell = () => {
    const mine = app.book.photos.filter((one) => one.visit === visit && one.shot === name && !one.label);
    const waiting = mine.filter((one) => one.state !== "sent").length;
    const kept = many(mine.length, "{number} photo kept", "{number} photos kept");
    const left = waiting ? told(", {number} not sent", { number: waiting }) : told(", all sent");
    count.textContent = mine.length ? `✓ ${kept}${left}` : `○ ${told("none yet")}`;
  };
  tell();
  made.append(count, camera(app, visit, name, "", told("Take a photo: {words}", { words }), tell));
  return made;
}

// A button that takes a photo and says when it is kept.
export function camera(app, visit, name, label, words, done) {
  const made = make("div", "camera");
  const id = `camera-${newKey()}`;
  const button = make("label", "button quiet", label ? words : told("Take a photo"));
  button.htmlFor = id;
  const file = make("input", "unseen");
  file.id = id;
  file.type = "file";
  file.accept = "image/*";
  file.setAttribute("capture", "environment");
  file.setAttribute("aria-label", words);
  const said = make("p", "hint");
  said.setAttribute("role", "status");
  file.addEventListener("change", async () => {
    const chosen = [...file.files];
    for (const one of chosen) {
      said.className = "hint";
      said.textContent = `… ${told("being kept")}`;
      try {
        await keepPhoto(app.book, visit, name, label, one);
        said.textContent = `✓ ${told("kept on this phone, {words}", { words: sizeWords(one.size) })}`;
        done?.();
      } catch (error) {
        said.className = "hint field-problem";
        said.textContent = `✕ ${error.message}`;
      }
    }
    file.value = "";
    app.sync.soon();
  });
  file.multiple = !label;
  made.append(file, button, said);
  return made;
}

async function keepPhoto(book, visit, shot, label, file) {
  const content = await file.arrayBuffer();
  const photo = { uuid: newKey(), visit, shot, label, size: content.byteLength, sha256: await sha256(content), at: Date.now(), state: "waiting" };
  await book.keepPhoto(photo, content);
}
