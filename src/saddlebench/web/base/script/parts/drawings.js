// What pages with drawings share: a section follows its slider, and the page prints whole.
export function followSlider() {
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
    image.alt = image.dataset.words.replace("{at}", at);
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

export function offerPrinting() {
  const print = document.querySelector("[data-print]");
  if (!print) return;
  print.hidden = false;
  print.addEventListener("click", () => {
    for (const image of document.querySelectorAll("img[loading=lazy]")) image.loading = "eager";
    Promise.allSettled([...document.images].map((image) => image.decode())).then(() => window.print());
  });
}
