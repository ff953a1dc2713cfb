// A chosen photo is sent at once; without a connection it stays chosen, and is sent when there is one again.
import htmx from "htmx.org";

const waiting = new Set();

function say(form, words) {
  form.querySelector(".sent").textContent = words;
}

async function send(form) {
  const input = form.querySelector("input[type=file]");
  if (!input.files.length) return;
  form.dataset.form ??= [...crypto.getRandomValues(new Uint8Array(16))].map((byte) => byte.toString(16).padStart(2, "0")).join("");
  const body = new FormData(form);
  body.set("form", form.dataset.form);
  const headers = { "HX-Request": "true", ...JSON.parse(document.body.getAttribute("hx-headers") || "{}") };
  say(form, "Sending …");
  form.setAttribute("aria-busy", "true");
  let answer, text;
  try {
    answer = await fetch(form.action, { method: "POST", body, headers });
    text = await answer.text();
  } catch {
    waiting.add(form);
    say(form, "≈ Not sent yet: no connection. Stay on this page; it is sent by itself.");
    return;
  } finally {
    form.removeAttribute("aria-busy");
  }
  if (answer.status === 401) {
    const dialog = document.getElementById("sign-in-again");
    dialog?.addEventListener("close", () => send(form), { once: true });
    if (dialog && !dialog.open) dialog.showModal();
    return;
  }
  waiting.delete(form);
  const shot = form.closest(".shot");
  const page = new DOMParser().parseFromString(text, "text/html");
  if (page.querySelector(".shot")) {
    const id = shot.id;
    htmx.swap(shot, text, { swapStyle: "outerHTML" });
    document.getElementById(id).querySelector("input[type=file]").focus();
  } else {
    say(form, page.querySelector(".problem")?.textContent.trim() || "✕ Not taken. Load the page again, then try again.");
  }
}

export function startAdding() {
  document.addEventListener("change", (event) => {
    const form = event.target.closest?.("[data-add-photo]");
    if (!form || event.target.type !== "file") return;
    delete form.dataset.form;
    send(form);
  });
  window.addEventListener("online", () => [...waiting].forEach(send));
  setInterval(() => [...waiting].forEach(send), 8000);
  window.addEventListener("beforeunload", (event) => waiting.size && event.preventDefault());
}
