import { told } from "./told.js";

// A partial request that finds its person signed out opens a dialog; after signing in the same request is sent again.
export function signInAgain(htmx) {
  const dialog = document.getElementById("sign-in-again");
  if (!dialog) return;
  const form = dialog.querySelector("[data-sign-in-again]");
  const said = dialog.querySelector("[data-said]");
  const waiting = [];

  document.body.addEventListener("htmx:responseError", (event) => {
    if (event.detail.xhr.status !== 401) return;
    waiting.push(event.detail.requestConfig);
    if (!dialog.open) dialog.showModal();
  });

  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    const body = new FormData(form);
    const token = JSON.parse(document.body.getAttribute("hx-headers") || "{}");
    const answer = await fetch(form.action, { method: "POST", body, headers: token });
    const back = await answer
      .json()
      .catch(() => ({ said: told("This did not work. Load the page in another window, sign in there, then try again.") }));
    if (!answer.ok) {
      said.hidden = false;
      said.textContent = back.said;
      return;
    }
    // Signing in renews the forms' token everywhere on the page.
    document.body.setAttribute("hx-headers", JSON.stringify({ "X-CSRFToken": back.token }));
    for (const field of document.querySelectorAll("input[name=csrfmiddlewaretoken]")) field.value = back.token;
    form.reset();
    said.hidden = true;
    dialog.close();
    for (const config of waiting.splice(0)) {
      const values = config.formData ? Object.fromEntries(config.formData.entries()) : config.parameters;
      htmx.ajax(config.verb, config.path, { source: config.elt, target: config.target, values });
    }
  });
}
