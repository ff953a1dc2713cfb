// A fit check's page: the section follows the slider, the 3-D view opens on a tap, the page prints.
function followSlider() {
  const form = document.querySelector("[data-slider]");
  if (!form) return;
  const range = form.querySelector("input[type=range]");
  const image = form.querySelector("[data-section]");
  const said = form.querySelector("[data-at]");
  form.querySelector("[data-without-script]").hidden = true;
  let waiting = 0;
  const address = (at) => `${form.dataset.slider}&s=${at}`;

  async function show() {
    const at = range.value;
    const next = new Image();
    next.src = address(at);
    try {
      await next.decode();
    } catch {
      said.textContent = `${at} mm: the drawing did not come; slide again`;
      return;
    }
    if (at !== range.value) return;
    image.src = next.src;
    image.alt = `Cross-section as seen from behind, ${at} mm behind the shoulder mark: back, pads, panels and clearances in mm.`;
    for (const beside of [Number(at) - Number(range.step), Number(at) + Number(range.step)]) {
      if (beside >= Number(range.min) && beside <= Number(range.max)) new Image().src = address(beside);
    }
  }
  range.addEventListener("input", () => {
    said.textContent = `${range.value} mm`;
    clearTimeout(waiting);
    waiting = setTimeout(show, 120);
  });
  form.addEventListener("click", (event) => {
    const button = event.target.closest("[data-place]");
    if (!button) return;
    event.preventDefault();
    range.value = button.dataset.place;
    range.dispatchEvent(new Event("input", { bubbles: true }));
  });
}

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
    said.textContent = "Loading the 3-D view …";
    try {
      const [{ openShape }, answer] = await Promise.all([
        import("../../base/script/parts/shape_view.js"),
        fetch(stage.dataset.shape, { credentials: "same-origin" }),
      ]);
      if (!answer.ok) throw new Error(String(answer.status));
      viewer = openShape(stage, await answer.arrayBuffer(), () =>
        close("The device took the 3-D view away. The picture stays; open it again when you like."),
      );
      stage.classList.add("is-open");
      viewer.show(tools.querySelector("[name=layer]:checked").value);
      tools.hidden = false;
      opener.hidden = true;
      said.textContent = "";
      viewer.canvas.focus({ preventScroll: true });
    } catch {
      close("The 3-D view cannot be shown on this device. The picture and the sections say the same.");
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

const print = document.querySelector("[data-print]");
if (print) {
  print.hidden = false;
  print.addEventListener("click", () => {
    for (const image of document.querySelectorAll("img[loading=lazy]")) image.loading = "eager";
    Promise.allSettled([...document.images].map((image) => image.decode())).then(() => window.print());
  });
}
followSlider();
openShapes();
