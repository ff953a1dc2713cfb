// Readings on their way: kept in this browser until the program says they are saved, sent in the order they were read.
const PREFIX = "saddlebench.readings.";
const RETRY_MS = 2000;

function read(key) {
  try {
    return JSON.parse(localStorage.getItem(key)) || [];
  } catch {
    return [];
  }
}

export class Queue {
  // `told` hears of every change: {waiting, since, state, words, answer, url}.
  constructor(capture, told) {
    this.key = PREFIX + capture;
    this.told = told;
    this.sending = false;
    this.stopped = "";
    this.timer = 0;
    window.addEventListener("online", () => this.send());
  }

  get items() {
    return read(this.key);
  }

  set items(items) {
    if (items.length) localStorage.setItem(this.key, JSON.stringify(items));
    else localStorage.removeItem(this.key);
  }

  waitingFor(field) {
    return this.items.filter((one) => one.field === field).pop();
  }

  add(url, readings, seen) {
    const at = new Date().toTimeString().slice(0, 5);
    const added = readings.map(([field, text]) => ({ url, field, text, seen, at, key: newKey() }));
    this.items = [...this.items, ...added];
    this.tell({});
    this.send();
  }

  tell(more) {
    const items = this.items;
    this.told({ waiting: items.length, since: items.length ? items[0].at : "", stopped: this.stopped, ...more });
  }

  async send() {
    const items = this.items;
    if (this.sending || !items.length) return;
    clearTimeout(this.timer);
    this.sending = true;
    const url = items[0].url;
    const batch = items.filter((one) => one.url === url).slice(0, 200);
    let wait = 0;
    try {
      const answer = await post(url, batch);
      if (answer.ok) this.taken(url, batch, await answer.json());
      else wait = this.refused(answer.status);
    } catch {
      wait = RETRY_MS;
      this.tell({ offline: true });
    }
    this.sending = false;
    if (wait) this.timer = setTimeout(() => this.send(), wait);
    else if (!this.stopped && this.items.length) this.send();
  }

  taken(url, batch, told) {
    const sent = new Set(batch.map((one) => one.key));
    // What is left of the same part was read with these values on the screen.
    this.items = this.items
      .filter((one) => !sent.has(one.key))
      .map((one) => (one.url === url ? { ...one, seen: told.revision } : one));
    this.stopped = "";
    this.tell({ answer: told, url });
  }

  refused(status) {
    if (status === 401) document.getElementById("sign-in-again")?.showModal?.();
    if (status === 401 || status >= 500 || status === 429) {
      this.tell({ offline: status >= 500, signedOut: status === 401 });
      return RETRY_MS;
    }
    this.stopped =
      status === 409
        ? "This back was finished meanwhile. What is not saved stays in this browser: take the back up again, then load this page."
        : "The program did not take this. What is not saved stays in this browser: load the page again.";
    this.tell({});
    return 0;
  }
}

function newKey() {
  if (crypto.randomUUID) return crypto.randomUUID();
  // Plain addresses inside a yard's network have no randomUUID.
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  bytes[6] = (bytes[6] & 0x0f) | 0x40;
  bytes[8] = (bytes[8] & 0x3f) | 0x80;
  const hex = [...bytes].map((one) => one.toString(16).padStart(2, "0")).join("");
  return hex.replace(/^(.{8})(.{4})(.{4})(.{4})(.{12})$/, "$1-$2-$3-$4-$5");
}

function post(url, batch) {
  const token = JSON.parse(document.body.getAttribute("hx-headers") || "{}");
  const entries = batch.map(({ field, text, key }) => ({ field, text, key }));
  return fetch(url, {
    method: "POST",
    headers: { "Content-Type": "application/json", ...token },
    body: JSON.stringify({ seen: Math.max(...batch.map((one) => one.seen)), entries }),
    credentials: "same-origin",
  });
}
