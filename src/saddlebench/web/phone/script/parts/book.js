// The phone's book: what was carried along, overlaid by what was entered here, entry by entry in its order.
import { openStore } from "./store.js";

// What these pages speak with the laptop: stated by the program that they came from.
export const PROTOCOL = Number(document.body.dataset.protocol);
const BACK_MS = 60_000;

export const newKey = () => {
  if (crypto.randomUUID) return crypto.randomUUID();
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  bytes[6] = (bytes[6] & 0x0f) | 0x40;
  bytes[8] = (bytes[8] & 0x3f) | 0x80;
  const hex = [...bytes].map((one) => one.toString(16).padStart(2, "0")).join("");
  return `${hex.slice(0, 8)}-${hex.slice(8, 12)}-${hex.slice(12, 16)}-${hex.slice(16, 20)}-${hex.slice(20)}`;
};

const id = (uuid, saddle, field) => `${uuid}|${saddle || ""}|${field}`;

export class Book {
  static async open() {
    const book = new Book();
    book.store = await openStore();
    book.listeners = new Set();
    book.channel = "BroadcastChannel" in self ? new BroadcastChannel("saddlebench-phone") : null;
    if (book.channel) book.channel.onmessage = () => book.reload().then(() => book.tell());
    await book.reload();
    return book;
  }

  async reload() {
    const [journal, values, things, photos, meta, carried = null] = await Promise.all([
      this.store.all("journal"),
      this.store.all("values"),
      this.store.all("things"),
      this.store.all("photos"),
      this.store.get("meta", "state"),
      this.store.get("meta", "carried"),
    ]);
    // What newer pages took along may be of a form that these do not know: it is asked for anew.
    this.carried = carried && carried.protocol > PROTOCOL ? null : carried;
    this.practice = carried?.practice?.uuid || "";
    this.journal = journal;
    this.values = new Map(values.map((one) => [id(one.uuid, one.saddle, one.field), one]));
    this.things = new Map(things.map((one) => [one.uuid, one]));
    this.photos = photos;
    this.state = meta || { lastAt: 0, wentBack: 0, clockOff: 0, sentAt: 0 };
  }

  listen(heard) {
    this.listeners.add(heard);
  }

  tell(elsewhere = false) {
    for (const heard of this.listeners) heard();
    if (elsewhere) this.channel?.postMessage("changed");
  }

  // ── what stands ─────────────────────────────────────────────
  get unsent() {
    return this.journal.filter((one) => one.state === "waiting");
  }

  // Of what is unsent: what newer pages than these entered. It waits for them.
  get beyond() {
    return this.unsent.filter((one) => (one.protocol || 1) > PROTOCOL);
  }

  get conflicts() {
    return this.journal.filter((one) => one.state === "held" || one.state === "refused");
  }

  get unsentPhotos() {
    return this.photos.filter((one) => one.state !== "sent");
  }

  get visits() {
    const own = [...this.things.values()].filter((one) => one.kind === "visit");
    const carried = this.carried?.visits || [];
    const known = new Set(carried.map((one) => one.uuid));
    return [...own.filter((one) => !known.has(one.uuid)), ...carried];
  }

  visit(uuid) {
    return this.visits.find((one) => one.uuid === uuid);
  }

  get captures() {
    const own = [...this.things.values()].filter((one) => one.kind === "capture");
    const carried = this.carried?.captures || [];
    const known = new Set(carried.map((one) => one.uuid));
    return [...own.filter((one) => !known.has(one.uuid)), ...carried];
  }

  capture(uuid) {
    return this.captures.find((one) => one.uuid === uuid);
  }

  triedAt(visit) {
    const own = [...this.things.values()].filter((one) => one.kind === "tried" && one.visit === visit.uuid);
    const known = new Set((visit.tried || []).map((one) => one.saddle.uuid));
    return [...(visit.tried || []), ...own.filter((one) => !known.has(one.saddle.uuid))];
  }

  // The value of a field as it stands on this phone, and the revision it was seen at.
  standing(base, uuid, saddle, field) {
    const mine = this.values.get(id(uuid, saddle, field));
    const theirs = base?.values?.[field];
    const carried = theirs && typeof theirs === "object" && "revision" in theirs ? theirs : { value: theirs, revision: 0 };
    const seen = Math.max(base?.revision || 0, carried.revision || 0, mine?.revision || 0);
    // What was carried after mine was sent may be newer than mine.
    if (mine && (mine.waiting || (mine.revision || 0) >= (base?.revision || 0))) return { value: mine.value, seen, mine: true };
    return { value: carried.value ?? null, seen, mine: false };
  }

  readings(capture) {
    const values = {};
    for (const [name, value] of Object.entries(capture.values || {})) values[name] = value;
    for (const one of this.values.values()) {
      if (one.uuid !== capture.uuid) continue;
      if (!one.waiting && (one.revision || 0) < (capture.revision || 0)) continue;
      if (one.value === null) delete values[one.field];
      else values[one.field] = one.value;
    }
    return values;
  }

  // Where the clock went back while something waited to be sent: its ages are uncertain until it is sent.
  clocked(now) {
    if (!this.unsent.length && !this.unsentPhotos.length) return { ...this.state, lastAt: now, wentBack: 0 };
    const { lastAt, wentBack } = this.state;
    return { ...this.state, lastAt: Math.max(lastAt, now), wentBack: now < lastAt - BACK_MS ? lastAt - now : wentBack };
  }

  // ── entering ────────────────────────────────────────────────
  // Keeps entries, whole or not at all; resolves when they are on the disk.
  async keep(entries, things = []) {
    const now = Date.now();
    const state = this.clocked(now);
    const rows = entries.map((one) => ({
      key: newKey(),
      at: now,
      state: "waiting",
      protocol: PROTOCOL,
      practice: this.practice,
      ...one,
    }));
    const values = rows
      .filter((one) => one.kind === "value" || one.kind === "reading")
      .map((one) => ({
        uuid: one.uuid,
        saddle: one.saddle || "",
        field: one.field,
        value: one.value,
        revision: one.seen,
        waiting: true,
      }));
    // A value entered anew takes the place of one that was refused.
    const names = new Set(values.map((one) => id(one.uuid, one.saddle, one.field)));
    const replaced = this.journal.filter((one) => one.state === "refused" && one.field && names.has(id(one.uuid, one.saddle, one.field)));
    await this.store.write(["journal", "values", "things", "meta"], (stores) => {
      for (const row of replaced) stores.journal.delete(row.seq);
      for (const row of rows) {
        const asked = stores.journal.add(row);
        asked.onsuccess = () => {
          row.seq = asked.result;
        };
      }
      for (const value of values) stores.values.put(value);
      for (const thing of things) stores.things.put(thing);
      stores.meta.put(state, "state");
    });
    this.journal = [...this.journal.filter((one) => !replaced.includes(one)), ...rows];
    for (const value of values) this.values.set(id(value.uuid, value.saddle, value.field), value);
    for (const thing of things) this.things.set(thing.uuid, thing);
    this.state = state;
    this.tell(true);
    return rows;
  }

  async keepPhoto(photo, content) {
    await this.store.write(["photos", "bytes"], ({ photos, bytes }) => {
      photos.put(photo);
      bytes.put(content, photo.uuid);
    });
    this.photos.push(photo);
    this.tell(true);
  }

  // ── after sending ───────────────────────────────────────────
  async settle(results, answer) {
    const byKey = new Map(results.map((one) => [one.key, one]));
    const changed = this.journal.filter((one) => byKey.has(one.key));
    const last = new Map();
    for (const row of this.journal) if (row.field) last.set(id(row.uuid, row.saddle, row.field), row.key);
    const clockOff = Date.now() - Date.parse(answer.now);
    const state = { ...this.state, sentAt: Date.now(), clockOff };
    const values = [];
    await this.store.write(["journal", "values", "meta"], (stores) => {
      for (const row of changed) {
        const result = byKey.get(row.key);
        if (result.outcome === "saved" || result.outcome === "same") {
          stores.journal.delete(row.seq);
          row.state = "sent";
        } else {
          row.state = result.outcome;
          row.other = result.other;
          row.problems = result.problems;
          stores.journal.put(row);
        }
        const name = row.field && id(row.uuid, row.saddle, row.field);
        if (!name || last.get(name) !== row.key) continue;
        const held = this.values.get(name);
        if (!held) continue;
        const value =
          row.state === "held"
            ? { ...held, value: result.other.value, revision: result.other.revision, waiting: false }
            : { ...held, revision: Math.max(held.revision || 0, result.revision), waiting: row.state === "refused" };
        values.push([name, value]);
        stores.values.put(value);
      }
      stores.meta.put(state, "state");
    });
    for (const [name, value] of values) this.values.set(name, value);
    this.journal = this.journal.filter((one) => one.state !== "sent");
    this.state = state;
    this.tell(true);
  }

  // A conflict decided: theirs stands, or mine is entered over it, having seen theirs.
  async decide(row, mine) {
    const again = mine
      ? [{ kind: row.kind, uuid: row.uuid, saddle: row.saddle, field: row.field, value: row.value, seen: row.other.revision, words: row.words }]
      : [];
    if (again.length) await this.keep(again);
    await this.store.write(["journal"], ({ journal }) => journal.delete(row.seq));
    this.journal = this.journal.filter((one) => one.seq !== row.seq);
    this.tell(true);
  }

  // A refused entry, sent once more as it is.
  async again(row) {
    row.state = "waiting";
    await this.store.write(["journal"], ({ journal }) => journal.put(row));
    this.tell(true);
  }

  async take(carried) {
    await this.store.write(["meta", "values"], ({ meta, values }) => {
      meta.put(carried, "carried");
      // What was sent and is carried back needs no place of its own.
      for (const one of this.values.values()) {
        const base = [...carried.visits, ...carried.captures].find((other) => other.uuid === one.uuid);
        if (!one.waiting && base && !one.saddle && (one.revision || 0) < base.revision) values.delete([one.uuid, one.saddle, one.field]);
      }
    });
    await this.reload();
    this.tell(true);
  }

  async photoTold(photo, change) {
    Object.assign(photo, change);
    await this.store.write(["photos", "bytes"], ({ photos, bytes }) => {
      photos.put(photo);
      if (photo.state === "sent") bytes.delete(photo.uuid);
    });
    this.tell(true);
  }

  // A photo that nobody takes, let go by whoever took it.
  async dropPhoto(photo) {
    await this.store.write(["photos", "bytes"], ({ photos, bytes }) => {
      photos.delete(photo.uuid);
      bytes.delete(photo.uuid);
    });
    this.photos = this.photos.filter((one) => one.uuid !== photo.uuid);
    this.tell(true);
  }

  bytes(uuid) {
    return this.store.get("bytes", uuid);
  }
}
