// Keeps the screen awake while a horse is measured, and reads numbers back aloud where that was asked for.
const READ_BACK = "saddlebench.phone.read-back";

export function stayAwake() {
  let held = null;
  let over = false;
  const ask = async () => {
    if (over || document.visibilityState !== "visible" || !navigator.wakeLock) return;
    try {
      held = await navigator.wakeLock.request("screen");
      if (over) held.release();
    } catch {
      held = null;
    }
  };
  document.addEventListener("visibilitychange", ask);
  ask();
  return () => {
    over = true;
    document.removeEventListener("visibilitychange", ask);
    held?.release();
  };
}

export const canReadBack = () => "speechSynthesis" in self;
export const readsBack = () => canReadBack() && localStorage.getItem(READ_BACK) === "yes";
export const setReadBack = (on) => localStorage.setItem(READ_BACK, on ? "yes" : "no");

export function readBack(words) {
  if (!readsBack()) return;
  speechSynthesis.cancel();
  const said = new SpeechSynthesisUtterance(words);
  said.lang = document.documentElement.lang;
  said.volume = 0.6;
  speechSynthesis.speak(said);
}
