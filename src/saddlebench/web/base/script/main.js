// What every page runs: partial updates, signing in again in place, and a draft of what is being typed.
import htmx from "htmx.org";
import { keepDrafts } from "./parts/drafts.js";
import { signInAgain } from "./parts/sign_in_again.js";

window.htmx = htmx;
signInAgain(htmx);
keepDrafts();
document.addEventListener("keydown", (event) => {
  const menu = document.querySelector(".me[open]");
  if (event.key === "Escape" && menu) {
    menu.open = false;
    menu.querySelector("summary").focus();
  }
});
