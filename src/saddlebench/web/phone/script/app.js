// The phone's page: everything entered is kept here first, and sent when the program is met.
import { told } from "../../base/script/parts/told.js";
import { make } from "../../capture/script/parts/screen.js";
import { Book } from "./parts/book.js";
import { Sync } from "./parts/sync.js";
import { showBar } from "./parts/bar.js";
import { guideWorker } from "./parts/worker_guide.js";
import { showToday, showStart } from "./parts/today.js";
import { showSaddle, showStep, showVisit } from "./parts/visit.js";
import { showPhotos } from "./parts/photos.js";
import { showDraw } from "./parts/draw.js";
import { showMeasure, showMeasureStart } from "./parts/measure.js";
import { showPart } from "./parts/pad.js";
import { showUnsent } from "./parts/unsent.js";

const VIEWS = [
  [/^#\/start$/, showStart],
  [/^#\/unsent$/, showUnsent],
  [/^#\/visit\/([\w-]+)$/, showVisit],
  [/^#\/visit\/([\w-]+)\/step\/(\w+)$/, showStep],
  [/^#\/visit\/([\w-]+)\/saddle\/([\w-]+)\/(\w+)$/, showSaddle],
  [/^#\/visit\/([\w-]+)\/photos$/, showPhotos],
  [/^#\/photo\/([\w-]+)$/, showDraw],
  [/^#\/visit\/([\w-]+)\/measure$/, showMeasureStart],
  [/^#\/measure\/([\w-]+)$/, showMeasure],
  [/^#\/measure\/([\w-]+)\/part\/(\w+)$/, showPart],
];

const place = document.querySelector("[data-view]");
begin();

async function begin() {
  const app = { worker: guideWorker() };
  try {
    app.book = await Book.open();
  } catch (error) {
    place.replaceChildren(make("h1", "", told("At the horse")), make("p", "problem", `${error.message} ${told("A private window keeps nothing; use an ordinary one.")}`));
    return;
  }
  app.sync = new Sync(app.book, app.worker, () => showBar(app));
  app.book.listen(() => {
    showBar(app);
    app.changed?.();
  });
  window.addEventListener("hashchange", () => show(app));
  app.worker.listeners.add(() => showBar(app));
  // Ages grow while nothing happens.
  setInterval(() => showBar(app), 30_000);
  show(app);
  showBar(app);
  app.sync.go();
}

function show(app) {
  app.leave?.();
  app.leave = app.changed = undefined;
  const [, view, given] = found(location.hash);
  place.replaceChildren();
  document.body.classList.remove("on-pad");
  view(app, place, ...given);
  performance.mark("shown");
  document.title = `${place.querySelector("h1")?.textContent || told("At the horse")} · saddlebench`;
  window.scrollTo(0, 0);
  if (location.hash) place.focus({ preventScroll: true });
}

function found(hash) {
  for (const [pattern, view] of VIEWS) {
    const match = pattern.exec(hash);
    if (match) return [pattern, view, match.slice(1)];
  }
  return [null, showToday, []];
}
