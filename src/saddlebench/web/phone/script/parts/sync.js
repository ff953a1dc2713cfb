// Sending what is unsent: in order, each entry under its own key, photos in pieces. Whatever is cut off goes on later.
import { PROTOCOL } from "./book.js";
import { many, told } from "./words.js";

const BATCH = 400;
const PIECE = 128 * 1024;
const SOON_MS = 400;
const CARRY_MS = 60_000;
const RETRY_MS = [3000, 10_000, 30_000, 60_000];

export class Sync {
  constructor(book, worker, heard) {
    this.book = book;
    this.worker = worker;
    this.heard = heard;
    // Kept from the last time: what is unsent can go without asking for it first.
    this.form = book.carried?.form || "";
    this.said = { state: "idle", words: "" };
    this.tries = 0;
    this.busy = false;
    window.addEventListener("online", () => this.go());
    document.addEventListener("visibilitychange", () => document.visibilityState === "visible" && this.go());
  }

  say(state, words = "") {
    this.said = { state, words };
    this.heard(this.said);
  }

  go() {
    if (this.busy) {
      this.again = true;
      return this.running;
    }
    clearTimeout(this.timer);
    this.busy = true;
    this.running = this.once().finally(() => {
      this.busy = false;
      if (this.again) {
        this.again = false;
        // With no server in reach it is tried by and by; whatever else was in the way, this was entered after.
        if (this.said.state !== "offline") this.go();
      }
    });
    return this.running;
  }

  // Sends in a moment: several fields filled in one after the other go together.
  soon() {
    clearTimeout(this.waiting);
    this.waiting = setTimeout(() => this.go(), SOON_MS);
  }

  // Asks for everything that there is to take along, besides sending.
  news() {
    this.carriedAt = 0;
    return this.go();
  }

  async once() {
    // Two tabs of one phone must not send at once: the second would only repeat the first.
    if (!navigator.locks) return this.whole();
    return navigator.locks.request("saddlebench-send", { ifAvailable: true }, (lock) => (lock ? this.whole() : undefined));
  }

  async whole() {
    try {
      // What is unsent goes first; the rest of the day can wait for it.
      await this.unsent();
      if (Date.now() - (this.carriedAt || 0) > CARRY_MS) await this.carry();
      // What waits for a newer program asks each time whether it is there.
      else if (this.book.beyond.length) await this.greet();
      this.tries = 0;
      if (this.book.beyond.length) throw beyondThese(this.book.beyond.length);
      this.say("idle");
    } catch (error) {
      this.failed(error);
    }
  }

  async unsent() {
    if (!this.form) await this.greet();
    try {
      await this.entries();
    } catch (error) {
      if (error.state !== "form") throw error;
      await this.greet();
      await this.entries();
    }
    await this.photos();
  }

  failed(error) {
    if (error instanceof Stopped) {
      this.say(error.state, error.message);
      if (error.state !== "form") return;
    } else {
      this.say("offline", told("No server in reach. Everything stays on this phone, and is sent when it is met again."));
    }
    const wait = RETRY_MS[Math.min(this.tries, RETRY_MS.length - 1)];
    this.tries += 1;
    this.timer = setTimeout(() => this.go(), wait);
  }

  async carry() {
    const carried = await this.asked("/phone/carried.json");
    this.carriedAt = Date.now();
    if (carried.protocol !== PROTOCOL) throw newerThere();
    await this.book.take({ ...carried, at: Date.now() });
  }

  greet() {
    return this.asked("/phone/carried.json?greeting");
  }

  async asked(address) {
    const answer = await fetch(address, { redirect: "manual", cache: "no-store" });
    if (answer.type === "opaqueredirect" || answer.status === 401) throw signedOut();
    if (asksForCode(answer)) throw notPaired();
    if (answer.status === 403) throw new Stopped("refused", told("Your role in this practice does not include this."));
    if (!answer.ok) throw new Error(String(answer.status));
    const carried = await answer.json();
    this.worker.heard(carried.stamp);
    if (carried.protocol < PROTOCOL) throw olderThere();
    const mine = this.book.unsent[0]?.practice || this.book.practice;
    if (this.book.unsent.length && mine && mine !== carried.practice.uuid) {
      throw new Stopped("practice", told("What is unsent belongs to another practice than the one signed in. Sign in to that one, or save it as a file."));
    }
    this.form = carried.form;
    return carried;
  }

  async entries() {
    for (;;) {
      const left = this.book.unsent.filter((one) => (one.protocol || 1) <= PROTOCOL);
      if (!left.length) return;
      const batch = left.slice(0, BATCH);
      this.say("sending", told("Sending {number}…", { number: left.length }));
      const sent = { protocol: PROTOCOL, practice: batch[0].practice, entries: batch.map(plain) };
      const answer = await this.post("/phone/sync/", ...(await packed(JSON.stringify(sent))));
      if (answer.status === 409) {
        const refused = await answer.json();
        this.worker.heard(refused.stamp);
        throw refused.protocol ? olderThere() : new Stopped("practice", refused.said);
      }
      if (!answer.ok) throw new Error(String(answer.status));
      const taken = await answer.json();
      this.worker.heard(taken.stamp);
      await this.book.settle(taken.results, taken);
      if (!taken.results.length) throw new Error("no answer for what was sent");
    }
  }

  async photos() {
    for (const photo of this.book.unsentPhotos) {
      if (photo.refused || photo.uuid === this.book.drawingOn) continue;
      await this.photo(photo);
    }
  }

  async photo(photo) {
    const address = `/phone/photos/${photo.uuid}/`;
    let there = await this.json(await this.get(address));
    const content = await this.book.bytes(photo.uuid);
    const drawn = photo.drawn || [];
    if (content && (!there.kept || drawn.length)) {
      while (!there.kept && there.have < content.byteLength) {
        const left = this.book.unsentPhotos.length;
        this.say("sending", told("Photo, {number} %; {number2} left", { number: Math.round((100 * there.have) / content.byteLength), number2: left }));
        const piece = content.slice(there.have, there.have + PIECE);
        const answer = await this.post(`${address}piece/?from=${there.have}`, piece, "application/octet-stream");
        if (answer.status === 413) return this.refuse(photo, await answer.json());
        const before = there.have;
        there = await this.json(answer);
        if (there.kept) break;
        if (there.have <= before && there.have !== 0) throw new Error("no piece was taken");
      }
      const about = { sha256: photo.sha256, visit: photo.visit, shot: photo.shot, label: photo.label, drawn };
      const answer = await this.post(`${address}whole/`, JSON.stringify(about), "application/json");
      if (answer.status === 422 || answer.status === 404) return this.refuse(photo, await answer.json());
      there = await this.json(answer);
      if (!there.kept) throw new Error("the photo is not whole");
    }
    await this.book.photoTold(photo, { state: "sent" });
  }

  refuse(photo, answer) {
    return this.book.photoTold(photo, { refused: answer.said || told("The photo was not taken.") });
  }

  async json(answer) {
    if (!answer.ok && answer.status !== 409) throw new Error(String(answer.status));
    return answer.json();
  }

  async get(url) {
    const answer = await fetch(url, { redirect: "manual", cache: "no-store" });
    if (answer.type === "opaqueredirect" || answer.status === 401) throw signedOut();
    if (asksForCode(answer)) throw notPaired();
    return answer;
  }

  async post(url, body, type, encoding) {
    const headers = { "Content-Type": type, "X-CSRFToken": this.form, ...(encoding ? { "Content-Encoding": encoding } : {}) };
    const answer = await fetch(url, { method: "POST", body, headers });
    if (answer.status === 401) throw signedOut();
    if (asksForCode(answer)) throw notPaired();
    if (answer.status === 403) {
      this.form = "";
      throw new Stopped("form", told("The program asks this phone to show itself again; it is tried once more."));
    }
    return answer;
  }
}

// Entries are much alike: packed they are a fifth, and the line at a yard is thin.
async function packed(text) {
  if (!("CompressionStream" in self)) return [text, "application/json"];
  const stream = new Blob([text]).stream().pipeThrough(new CompressionStream("gzip"));
  return [await new Response(stream).arrayBuffer(), "application/json", "gzip"];
}

function plain(row) {
  const { seq: _seq, state: _state, practice: _practice, words: _words, other: _other, problems: _problems, at, ...sent } = row;
  return { ...sent, at: new Date(at).toISOString(), saddle: sent.saddle || undefined };
}

export class Stopped extends Error {
  constructor(state, words) {
    super(words);
    this.state = state;
  }
}

const asksForCode = (answer) => answer.headers.get("X-Asks-For") === "pairing-code";
const notPaired = () => new Stopped("signed out", told("The laptop asks this phone for the pairing code in its window. Everything stays on this phone; give the code, and it is sent."));
const signedOut = () => new Stopped("signed out", told("You are signed out here. Everything stays on this phone; sign in, and it is sent."));
const newerThere = () => new Stopped("newer", told("The program on the laptop is newer than the pages on this phone. What is entered is sent all the same; to take along what is new there, renew the pages."));
const olderThere = () => new Stopped("version", told("The program on the laptop is older than the pages on this phone, and cannot read what they keep. Nothing is lost: it stays here, and is sent to a newer program. Save it as a file to be sure; to go on with the older program, renew the pages."));
const beyondThese = (n) =>
  new Stopped(
    "beyond",
    many(
      n,
      "{number} entry was made with newer pages than these, and waits for a newer program on the laptop. Nothing is lost; save it as a file to be sure.",
      "{number} entries were made with newer pages than these, and wait for a newer program on the laptop. Nothing is lost; save it as a file to be sure.",
    ),
  );

// Everything unsent as one file, one JSON object a line; the first line says how many follow.
export async function unsentFile(book) {
  const entries = [...book.journal];
  const photos = book.unsentPhotos;
  const head = {
    format: "saddlebench unsent entries",
    version: Math.max(PROTOCOL, ...entries.map((one) => one.protocol || 1)),
    practice: book.practice || entries[0]?.practice || "",
    saved_at: new Date().toISOString(),
    entries: entries.length,
    photos: photos.length,
  };
  const parts = [`${JSON.stringify(head)}\n`, ...entries.map((one) => `${JSON.stringify(plain(one))}\n`)];
  for (const photo of photos) {
    const content = await book.bytes(photo.uuid);
    if (!content) continue;
    const { uuid, visit, shot, label, sha256, drawn = [] } = photo;
    parts.push(`${JSON.stringify({ uuid, visit, shot, label, sha256, drawn, photo: base64(content) })}\n`);
  }
  return new Blob(parts, { type: "application/jsonl" });
}

function base64(content) {
  const bytes = new Uint8Array(content);
  let text = "";
  for (let i = 0; i < bytes.length; i += 0x8000) text += String.fromCharCode(...bytes.subarray(i, i + 0x8000));
  return btoa(text);
}

