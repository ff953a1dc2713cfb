// Registers the service worker, and lets a newer one take over when the reader asks for it.
import { told } from "../../../base/script/parts/told.js";

export function guideWorker() {
  const guide = { ready: false, newer: false, listeners: new Set(), heard: () => undefined };
  const workers = navigator.serviceWorker;
  if (!workers) {
    guide.lacking = self.isSecureContext ? told("this browser has no service worker") : told("the connection is not encrypted");
    return guide;
  }
  const tell = () => guide.listeners.forEach((heard) => heard());
  workers
    .register(`/service-worker.js?for=${tongue()}`, { scope: "/", updateViaCache: "none" })
    .then((registration) => {
      guide.registration = registration;
      const look = () => {
        guide.newer = Boolean(registration.waiting && workers.controller);
        tell();
      };
      look();
      // A page that stays open for days would not look by itself for the pages of a renewed program.
      let last = document.body.dataset.stamp;
      guide.heard = (stamp) => {
        if (!stamp || stamp === last) return;
        last = stamp;
        registration.update().catch(() => undefined);
      };
      registration.addEventListener("updatefound", () => registration.installing?.addEventListener("statechange", look));
    })
    .catch((error) => {
      guide.lacking = error.message;
      tell();
    });
  workers.ready.then(() => {
    guide.ready = true;
    tell();
  });
  return guide;
}

// The first of the reader’s languages that these pages speak.
function tongue() {
  const read = navigator.languages.map((one) => one.slice(0, 2));
  return read.find((one) => one === "de" || one === "en") || "en";
}

// Takes the newer pages and loads them; what is kept on the phone stays where it is.
export async function renew(guide) {
  const registration = guide.registration;
  const reload = () => location.reload();
  navigator.serviceWorker?.addEventListener("controllerchange", reload, { once: true });
  await registration?.update().catch(() => undefined);
  const next = registration?.waiting || registration?.installing;
  if (!next) return reload();
  if (next.state === "installed") return next.postMessage("take over");
  next.addEventListener("statechange", () => next.state === "installed" && next.postMessage("take over"));
}
