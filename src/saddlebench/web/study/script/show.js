// A fit check's page: the section follows the slider, the 3-D view opens on a tap, the page prints.
import { followSlider, offerPrinting } from "../../base/script/parts/drawings.js";

function openShapes() {
  const stage = document.querySelector("[data-shape]");
  const turning = document.querySelector("[data-turning]");
  if (!stage || !turning) return;
  const opener = turning.querySelector("[data-open-shape]");
  const tools = turning.querySelector("[data-shape-tools]");
  const said = turning.querySelector("[data-shape-said]");
  let viewer = null;
  turning.hidden = false;

  function close(words) {
    viewer?.dispose();
    viewer = null;
    stage.classList.remove("is-open");
    tools.hidden = true;
    opener.hidden = false;
    said.textContent = words;
  }
  async function open() {
    opener.disabled = true;
    said.textContent = stage.dataset.loading;
    try {
      const [{ openShape }, answer] = await Promise.all([
        import("../../base/script/parts/shape_view.js"),
        fetch(stage.dataset.shape, { credentials: "same-origin" }),
      ]);
      if (!answer.ok) throw new Error(String(answer.status));
      viewer = openShape(stage, await answer.arrayBuffer(), () =>
        close(stage.dataset.taken),
      );
      stage.classList.add("is-open");
      viewer.show(tools.querySelector("[name=layer]:checked").value);
      tools.hidden = false;
      opener.hidden = true;
      said.textContent = "";
      viewer.canvas.focus({ preventScroll: true });
    } catch {
      close(stage.dataset.cannot);
    }
    opener.disabled = false;
  }
  opener.addEventListener("click", open);
  turning.querySelector("[data-close-shape]").addEventListener("click", () => {
    close("");
    opener.focus();
  });
  tools.addEventListener("change", (event) => {
    if (event.target.name !== "layer") return;
    viewer?.show(event.target.value);
    for (const legend of tools.querySelectorAll("[data-legend]")) {
      legend.hidden = legend.dataset.legend !== event.target.value;
    }
  });
  tools.addEventListener("click", (event) => {
    const button = event.target.closest("[data-turn]");
    if (button) viewer?.turn(button.dataset.turn);
  });
}

// A wide screen has room for what a phone folds; paper shows all of it, and folds it again afterwards.
function unfold() {
  const folds = () => document.querySelectorAll("details[data-fold]");
  const open = () => folds().forEach((one) => (one.open = true));
  if (matchMedia("(min-width: 50rem)").matches) open();
  let before = [];
  addEventListener("beforeprint", () => {
    before = [...folds()].filter((one) => !one.open);
    open();
  });
  addEventListener("afterprint", () => before.forEach((one) => (one.open = false)));
  const follow = () => {
    const target = document.getElementById(location.hash.slice(1));
    const fold = target?.closest("details[data-fold]");
    if (!fold || fold.open) return;
    fold.open = true;
    target.scrollIntoView();
  };
  addEventListener("hashchange", follow);
  follow();
}

unfold();
offerPrinting();
followSlider();
openShapes();
