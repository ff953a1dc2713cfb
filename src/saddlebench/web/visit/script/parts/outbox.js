// What was entered and is not yet known to be saved: kept in this browser, sent in order, told on the page.
import htmx from "htmx.org";
import { draw } from "./unsent.js";
import { restore, showWaiting, textsOf, wordsOf } from "./fields.js";

const RETRY_MS = [2000, 4000, 8000, 15000];

// Not crypto.randomUUID: a phone reaches the laptop without encryption, and browsers withhold it there.
export function newKey() {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  bytes[6] = (bytes[6] & 0x0f) | 0x40;
  bytes[8] = (bytes[8] & 0x3f) | 0x80;
  const hex = [...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("");
  return hex.replace(/^(.{8})(.{4})(.{4})(.{4})(.{12})$/, "$1-$2-$3-$4-$5");
}

class Outbox {
  constructor(where) {
    this.where = where;
    this.store = `saddlebench.unsent.${where?.dataset.who ?? ""}`;
    this.items = this.read();
    this.isSending = false;
    this.failures = 0;
  }

  read() {
    try {
      return JSON.parse(localStorage.getItem(this.store)) ?? [];
    } catch {
      return [];
    }
  }

  keep() {
    if (this.items.length) localStorage.setItem(this.store, JSON.stringify(this.items));
    else localStorage.removeItem(this.store);
    draw(this.where, this.items, this.failures > 0);
  }

  put(item) {
    const isReplaced = (one) => item.field && one.url === item.url && one.field === item.field && (!one.tries || one.refused) && one !== this.sending;
    this.items = this.items.filter((one) => !isReplaced(one));
    this.items.push({ at: new Date().toISOString(), tries: 0, ...item });
    this.keep();
    if (!item.draft) this.send();
  }

  // Typed and not left: sent when the field is left, or when the phone is locked in the middle.
  sendDrafts() {
    for (const one of this.items) delete one.draft;
    this.keep();
    this.send();
  }

  get unsent() {
    return this.items.filter((one) => !one.draft && !one.refused);
  }

  async send() {
    if (this.isSending) return this.running;
    this.isSending = true;
    clearTimeout(this.timer);
    this.running = this.sendAll();
    await this.running;
  }

  async sendAll() {
    try {
      for (let item = this.unsent[0]; item; item = this.unsent[0]) {
        item.tries += 1;
        this.sending = item;
        const isAnswered = await this.sendOne(item);
        this.sending = undefined;
        if (!isAnswered) {
          this.failures += 1;
          this.timer = setTimeout(() => this.send(), RETRY_MS[Math.min(this.failures, RETRY_MS.length) - 1]);
          break;
        }
        this.failures = 0;
      }
    } finally {
      this.isSending = false;
      this.keep();
    }
  }

  async sendOne(item) {
    const body = new URLSearchParams(item.pairs);
    if (item.field) {
      body.append(`${item.field}.key`, item.key);
      body.append(`${item.field}.seen`, item.seen);
    }
    const headers = { "HX-Request": "true", ...JSON.parse(document.body.getAttribute("hx-headers") || "{}") };
    let answer, text;
    try {
      answer = await fetch(item.url, { method: "POST", body, headers, keepalive: true });
      text = await answer.text();
    } catch {
      showWaiting(item);
      return false;
    }
    if (answer.status === 401) return this.signInFirst();
    if (answer.status >= 500 || answer.status === 429) {
      showWaiting(item);
      return false;
    }
    this.take(item, answer.status, text);
    return true;
  }

  signInFirst() {
    const dialog = document.getElementById("sign-in-again");
    if (dialog && !dialog.open) {
      dialog.showModal();
      dialog.addEventListener("close", () => this.send(), { once: true });
    }
    return false;
  }

  take(item, status, text) {
    const page = new DOMParser().parseFromString(text, "text/html");
    const seen = item.field ? page.querySelector(`input[name="${CSS.escape(item.field)}.seen"]`)?.value : undefined;
    const isAnswer = item.field ? seen !== undefined : Boolean(page.querySelector(item.target));
    if (isAnswer && (status === 200 || status === 409)) this.items = this.items.filter((one) => one !== item);
    else item.refused = isAnswer ? "look" : page.querySelector(".problem")?.textContent.trim() || `answer ${status}`;
    if (status === 200 && item.field) {
      // What follows was entered by someone who had this value before their eyes: their own.
      for (const one of this.items) if (one.url === item.url && one.field === item.field) one.seen = seen;
    }
    if (isAnswer) item.field ? showAnswer(item, text, status) : showPart(item, text);
  }

  // Everything sent and nothing refused on this page?
  async settle() {
    this.sendDrafts();
    await this.running;
    return this.items.length === 0;
  }
}

function answerOf(item) {
  const found = document.getElementById(`field-${item.field}`);
  return found?.closest("[data-save]")?.dataset.save === item.url ? found : null;
}

function showAnswer(item, text, status) {
  const answer = answerOf(item);
  if (!answer) return;
  answer.classList.toggle("has-problem", status === 422);
  const input = answer.querySelector("input:not([type=hidden]), textarea");
  if (status === 422) input?.setAttribute("aria-invalid", "true");
  else input?.removeAttribute("aria-invalid");
  htmx.swap(answer.querySelector(".about"), text, { swapStyle: "innerHTML" });
}

function showPart(item, text) {
  const part = document.querySelector(item.target);
  if (!part) return;
  const chosen = [...part.querySelectorAll("input:checked")].map((one) => `input[name=${one.name}][value="${one.value}"]`);
  const had = part.contains(document.activeElement) ? document.activeElement : null;
  const again = had && (had.id ? `#${CSS.escape(had.id)}` : had.name ? `[name=${had.name}]` : "button");
  htmx.swap(part, text, { swapStyle: "outerHTML" });
  const now = document.querySelector(item.target);
  for (const one of chosen) now.querySelector(one)?.click();
  if (again) (now.querySelector(again) ?? now.querySelector("select"))?.focus();
}

function itemOf(answer, draft) {
  const name = answer.dataset.name;
  const url = answer.closest("[data-save]").dataset.save;
  const seen = answer.querySelector(`input[name="${CSS.escape(name)}.seen"]`).value;
  const pairs = textsOf(answer).map((text) => [name, text]);
  if (!pairs.length) pairs.push([`${name}.shown`, "1"]);
  return { url, field: name, pairs, key: newKey(), seen, words: wordsOf(answer), step: location.pathname, ...(draft && { draft }) };
}

function listen(outbox) {
  document.addEventListener("change", (event) => {
    const answer = event.target.closest?.("[data-save] .answer");
    if (answer && !event.target.matches("[type=hidden]")) outbox.put(itemOf(answer, false));
  });
  document.addEventListener("input", (event) => {
    const answer = event.target.closest?.("[data-save] .answer");
    if (answer && event.target.matches("textarea, input:not([type=radio], [type=checkbox])")) outbox.put(itemOf(answer, true));
  });
  document.addEventListener("keydown", (event) => {
    if (event.key !== "Enter" || !event.target.matches?.("[data-save] .answer input:not([type=radio], [type=checkbox])")) return;
    event.preventDefault();
    const fields = [...event.target.form.querySelectorAll("input:not([type=hidden]), textarea, button:not([tabindex])")];
    fields.slice(fields.indexOf(event.target) + 1).find((one) => one.offsetParent)?.focus();
  });
  document.addEventListener("click", (event) => choose(event, outbox));
  document.addEventListener("visibilitychange", () => document.visibilityState === "hidden" && outbox.sendDrafts());
  window.addEventListener("pagehide", () => outbox.sendDrafts());
  window.addEventListener("online", () => outbox.send());
}

// Two people entered something: keep mine, or take theirs; either is an entry of its own.
function choose(event, outbox) {
  const button = event.target.closest?.("[data-keep]");
  if (!button) return;
  const answer = button.closest(".answer");
  if (button.dataset.keep === "theirs") restore(answer, JSON.parse(button.dataset.values));
  outbox.put(itemOf(answer, false));
  answer.querySelector("input:not([type=hidden]), textarea")?.focus();
}

// Leaving the step waits until everything is saved; without a connection the page stays.
function guard(outbox) {
  document.addEventListener("click", async (event) => {
    const link = event.target.closest?.("a[data-step], .visit-deeds a, .visit-name a");
    if (!link || event.ctrlKey || event.metaKey || event.shiftKey || !outbox.items.some((one) => !one.refused)) return;
    event.preventDefault();
    await outbox.settle();
    if (!outbox.unsent.length) location.assign(link.href);
  });
  document.addEventListener("submit", async (event) => {
    const form = event.target;
    if (!form.matches("[data-save]") || !outbox.items.length) return;
    event.preventDefault();
    await outbox.settle();
    const problem = form.querySelector(".has-problem");
    if (problem) problem.querySelector("input:not([type=hidden]), textarea").focus();
    else if (!outbox.unsent.length) form.submit();
  });
}

export function startOutbox() {
  const outbox = new Outbox(document.getElementById("unsent"));
  for (const item of outbox.items) {
    const answer = item.field && answerOf(item);
    if (answer) restore(answer, item.pairs.filter(([name]) => name === item.field).map(([, text]) => text));
    // What was refused is asked again once, so that the reason stands beside the field.
    if (answer) delete item.refused;
  }
  listen(outbox);
  guard(outbox);
  outbox.sendDrafts();
  return outbox;
}
