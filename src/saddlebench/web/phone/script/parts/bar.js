// Always in sight: what is unsent, how old it is, how much room is left, and what stands in the way.
import { make } from "../../../capture/script/parts/screen.js";
import { room } from "./store.js";
import { sizeWords } from "./bytes.js";
import { age, link, many, told } from "./words.js";

const LITTLE_ROOM = 200e6;
// All that can be sent is sent, whatever else is to be said.
const SENDS = ["idle", "newer", "beyond"];
let known = { left: null, persisted: false };
let lookedAt = 0;

export function unsentWords(book) {
  const [entries, photos] = [book.unsent, book.unsentPhotos];
  if (!entries.length && !photos.length) return "";
  const parts = [];
  if (entries.length) parts.push(many(entries.length, "{number} entry", "{number} entries"));
  if (photos.length) parts.push(many(photos.length, "{number} photo", "{number} photos"));
  const oldest = Math.min(...[...entries, ...photos].map((one) => one.at));
  const words = parts.length > 1 ? told("{words} and {words2}", { words: parts[0], words2: parts[1] }) : parts[0];
  const given = { words, words2: age(oldest) };
  return entries.length + photos.length > 1 ? told("{words} not sent, oldest {words2}", given) : told("{words} not sent, {words2}", given);
}

export async function showBar(app) {
  draw(app);
  if (Date.now() - lookedAt < 10_000) return;
  lookedAt = Date.now();
  known = await room();
  draw(app);
}

function draw(app) {
  const { book, sync } = app;
  const bar = document.querySelector("[data-bar]");
  const unsent = unsentWords(book);
  const said = sync.said;
  const trouble = troubles(app);
  const sign = trouble ? "!" : unsent ? "●" : "✓";
  const sent = decisions(book) ? told("Sent, but {words}", { words: decisions(book) }) : told("Everything is sent");
  const facts = [];
  if (known.left !== null) {
    const words = sizeWords(known.left);
    facts.push(known.left < LITTLE_ROOM ? told("! only {words} of room left", { words }) : told("{words} of room left", { words }));
  }
  if (said.state === "sending") facts.push(said.words);
  else if (said.state === "offline") facts.push(told("no server in reach"));
  else if (!SENDS.includes(said.state)) facts.push(told("not sending, see why"));
  lasting(bar, "bar-home", "#/", `◠ ${told("At the horse")}`);
  lasting(bar, "bar-line", "#/unsent", make("span", "bar-sign", sign), make("strong", "", unsent || sent), make("span", "bar-facts", facts.join(" · ")));
  if (trouble) lasting(bar, "bar-trouble", "#/unsent", `! ${trouble}`);
  else bar.querySelector(".bar-trouble")?.remove();
  bar.classList.toggle("has-unsent", Boolean(unsent || trouble));
}

// A link stays the same element whatever it says: one that is renewed under a thumb swallows the tap.
function lasting(bar, name, address, ...content) {
  const next = make("span");
  next.append(...content);
  const there = bar.querySelector(`.${name}`) ?? bar.appendChild(link("", address, name));
  if (there.innerHTML !== next.innerHTML) there.replaceChildren(...next.childNodes);
}

function decisions(book) {
  return book.conflicts.length ? many(book.conflicts.length, "{number} entry needs a decision", "{number} entries need a decision") : "";
}

export function troubles({ book, sync, worker }) {
  if (decisions(book)) return decisions(book);
  if (["signed out", "version", "practice", "refused"].includes(sync.said.state)) return sync.said.words;
  if (worker.newer) return told("The laptop’s program was renewed: renew the pages when you have a quiet moment");
  if (["newer", "beyond"].includes(sync.said.state)) return sync.said.words;
  if (book.state.wentBack && unsentWords(book)) return told("This phone’s clock was set back: entries keep their order, their ages are uncertain");
  if (known.left !== null && known.left < LITTLE_ROOM) return told("Little room is left on this phone: send, or save what is unsent as a file");
  return "";
}

export const roomKnown = () => known;
