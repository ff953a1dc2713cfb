// Times, ages and small parts of pages in words.
import { dayWords, figure, many, told } from "../../../base/script/parts/told.js";
import { deed, make } from "../../../capture/script/parts/screen.js";

export const clock = (at) => new Date(at).toTimeString().slice(0, 5);

export function age(at, now = Date.now()) {
  const minutes = Math.floor((now - at) / 60_000);
  if (minutes < 0) return told("made at a later time than this phone shows now");
  if (minutes < 1) return told("under a minute old");
  if (minutes < 60) return told("{number} min old", { number: minutes });
  const hours = Math.floor(minutes / 60);
  if (hours < 48) return told("{number} h old", { number: hours });
  return told("{number} days old", { number: Math.floor(hours / 24) });
}

export function link(words, hash, classes = "") {
  const made = make("a", classes, words);
  made.href = hash;
  return made;
}

export function backTo(words, hash) {
  const row = make("p", "back-row");
  row.append(link(`← ${words}`, hash));
  return row;
}

export function row(hash, title, detail, sign = "") {
  const item = make("li");
  const made = link("", hash, "row-link");
  if (sign) made.append(make("span", "row-sign", sign));
  const words = make("span", "row-words");
  words.append(make("strong", "", title), make("span", "detail", detail));
  made.append(words);
  item.append(made);
  return item;
}

export function rows(items) {
  const list = make("ul", "rows");
  list.append(...items);
  return list;
}

export function deeds(...made) {
  const line = make("p", "deeds");
  line.append(...made);
  return line;
}

export { dayWords, deed, figure, make, many, told };

export function today() {
  const now = new Date();
  return [now.getFullYear(), now.getMonth() + 1, now.getDate()].map((one) => String(one).padStart(2, "0")).join("-");
}

export function shownValue(value) {
  if (value === null || value === undefined || value === "") return told("nothing");
  if (value === true) return told("yes");
  if (value === false) return told("no");
  if (Array.isArray(value)) return value.map((one) => (typeof one === "object" ? one.kind : one)).join(", ") || told("nothing");
  if (typeof value === "object") return value.label || told("nothing");
  return typeof value === "number" ? figure(value) : String(value);
}
