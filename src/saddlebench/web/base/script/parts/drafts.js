import { told } from "./told.js";

// Forms with data-draft="<what>" are copied into this browser while they are typed, and offered back after a reload.
const PREFIX = "saddlebench.draft.";

function valuesOf(form) {
  const pairs = [...new FormData(form).entries()];
  return pairs.filter(([name, value]) => typeof value === "string" && !isHidden(form, name));
}

function isHidden(form, name) {
  const field = form.elements.namedItem(name);
  return !field || field.type === "hidden" || field.type === "password";
}

function putBack(form, pairs) {
  for (const [name, value] of pairs) {
    const field = form.elements.namedItem(name);
    if (!field) continue;
    if (field instanceof RadioNodeList || field.type === "radio") field.value = value;
    else if (field.type === "checkbox") field.checked = true;
    else field.value = value;
  }
}

function offer(form, draft) {
  const note = document.createElement("div");
  note.className = "draft";
  note.setAttribute("role", "status");
  const words = document.createElement("p");
  words.textContent = told("Typed here at {words} and not saved:", { words: draft.at });
  const take = document.createElement("button");
  take.type = "button";
  take.textContent = told("Put it back");
  const leave = document.createElement("button");
  leave.type = "button";
  leave.className = "quiet";
  leave.textContent = told("Let it go");
  const deeds = document.createElement("p");
  deeds.className = "deeds";
  deeds.append(take, leave);
  note.append(words, deeds);
  form.prepend(note);
  take.addEventListener("click", () => {
    putBack(form, draft.values);
    note.remove();
  });
  leave.addEventListener("click", () => {
    localStorage.removeItem(PREFIX + form.dataset.draft);
    note.remove();
  });
}

function read(key) {
  try {
    return JSON.parse(localStorage.getItem(key));
  } catch {
    return null;
  }
}

export function keepDrafts() {
  const here = new Set();
  for (const form of document.querySelectorAll("form[data-draft]")) {
    const key = PREFIX + form.dataset.draft;
    here.add(key);
    const draft = read(key);
    const now = JSON.stringify(valuesOf(form));
    if (draft && !form.dataset.problems && JSON.stringify(draft.values) !== now) offer(form, draft);
    form.addEventListener("input", () => {
      const at = new Date().toTimeString().slice(0, 5);
      localStorage.setItem(key, JSON.stringify({ at, values: valuesOf(form) }));
    });
    form.addEventListener("submit", () => {
      const held = read(key);
      if (held) localStorage.setItem(key, JSON.stringify({ ...held, sent: true }));
    });
  }
  // A draft that was sent is done with once another page answers; a page that shows the form again is not that.
  if (!document.querySelector("main#content") || document.body.classList.contains("bare")) return;
  for (const key of Object.keys(localStorage)) {
    if (key.startsWith(PREFIX) && !here.has(key) && read(key)?.sent) localStorage.removeItem(key);
  }
}
