// The steppers of "try it by hand": − and + move by a workable step, and the form's own request follows.

const form = document.querySelector("[data-trying]");

function stepped(value, way, input) {
  const least = Number(input.dataset.workable || 1);
  const low = Number(input.dataset.low);
  const high = Number(input.dataset.high);
  const by = Number(input.dataset.by || 1);
  let next = value + way * by;
  // Less than a workable step is nothing: from 0 straight to it, and back.
  if (Math.abs(next) < least) next = Math.abs(value) >= least ? 0 : way * least;
  return Math.min(high, Math.max(low, next));
}

function bySign(value) {
  return value > 0 ? `+${value}` : String(value).replace("-", "−");
}

if (form) {
  for (const button of form.querySelectorAll("[data-step]")) {
    button.hidden = false;
    button.addEventListener("click", () => {
      const input = button.parentElement.querySelector("input");
      const now = Number(input.value.replace("−", "-").replace(",", ".")) || 0;
      const next = stepped(now, Number(button.dataset.step), input);
      if (next === now) return;
      input.value = String(next);
      input.setAttribute("aria-description", `${bySign(next)} mm`);
      input.dispatchEvent(new Event("change", { bubbles: true }));
    });
  }
}
