// Times, ages and small parts of pages in words.
import { deed, make } from "../../../capture/script/parts/screen.js";

export const clock = (at) => new Date(at).toTimeString().slice(0, 5);

export function age(at, now = Date.now()) {
  const minutes = Math.floor((now - at) / 60_000);
  if (minutes < 0) return "made at a later time than this phone shows now";
  if (minutes < 1) return "under a minute old";
  if (minutes < 60) return `${minutes} min old`;
  const hours = Math.floor(minutes / 60);
  if (hours < 48) return `${hours} h old`;
  return `${Math.floor(hours / 24)} days old`;
}

export const many = (n, one, more = `${one}s`) => `${n} ${n === 1 ? one : more}`;

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

export { deed, make };

export function today() {
  const now = new Date();
  return [now.getFullYear(), now.getMonth() + 1, now.getDate()].map((one) => String(one).padStart(2, "0")).join("-");
}

export function shownValue(value) {
  if (value === null || value === undefined || value === "") return "nothing";
  if (value === true) return "yes";
  if (value === false) return "no";
  if (Array.isArray(value)) return value.map((one) => (typeof one === "object" ? one.kind : one)).join(", ") || "nothing";
  if (typeof value === "object") return value.label || "nothing";
  return String(value);
}
