// A visit's pages: each field is saved as it is entered, kept in this browser until the answer is there.
import { startOutbox } from "./parts/outbox.js";
import { startMarks } from "./parts/marks.js";

document.documentElement.classList.add("has-script");
const outbox = startOutbox();
startMarks(outbox);
document.querySelector(".path a[aria-current]")?.scrollIntoView({ block: "nearest", inline: "center" });
for (const button of document.querySelectorAll("[data-print]")) button.addEventListener("click", () => window.print());
