// Marks of a scan: on its 3-D surface where the device can show it, by a tap on the picture, or by the numbers below.
const LATER_MS = 500;

function begin(form) {
  const stage = form.querySelector("[data-stage]");
  const picture = stage.querySelector("img");
  const opening = form.querySelector("[data-opening]");
  const tools = [...form.querySelectorAll("[data-tools]")];
  const said = form.querySelector("[data-said]");
  const closer = form.querySelector("[data-close]");
  const flat = form.querySelector("[data-how-flat]");
  const words = JSON.parse(form.dataset.words);
  let viewer = null;
  let waiting = null;
  let timer = 0;

  const radio = () => form.querySelector("input[name=mark]:checked");
  const chosen = () => radio()?.value || "";

  async function send(fields) {
    const body = new URLSearchParams({ csrfmiddlewaretoken: form.elements.csrfmiddlewaretoken.value, ...fields });
    said.textContent = words.saving;
    try {
      const answer = await fetch(form.action, {
        method: "POST",
        body,
        credentials: "same-origin",
        keepalive: true,
        headers: { Accept: "application/json" },
      });
      told(await answer.json());
    } catch {
      said.textContent = words.lost;
    }
  }
  function told(state) {
    said.textContent = state.said;
    viewer?.show(state.marks);
    picture.src = `${picture.src.split("?")[0]}?${state.stamp}`;
    form.querySelector("[data-undo]").disabled = !state.can_undo;
    for (const one of state.marks) {
      form.querySelector(`[data-mark="${one.key}"] [data-state]`).textContent = one.state;
      const box = document.querySelector(`[data-felt="${one.key}"]`);
      if (box) box.checked = one.kind === "felt";
    }
  }
  // A mark that is nudged is saved once the keys rest: each press is not a change of its own.
  function flush() {
    clearTimeout(timer);
    const fields = waiting;
    waiting = null;
    if (fields) send(fields);
  }
  function put(key, at, { later } = {}) {
    const fields = { mark: key, at: at.map((one) => one.toFixed(4)).join(" ") };
    if (waiting && waiting.mark !== key) flush();
    if (!later) {
      waiting = null;
      clearTimeout(timer);
      send(fields);
      return;
    }
    waiting = fields;
    said.textContent = words.moved;
    clearTimeout(timer);
    timer = setTimeout(flush, LATER_MS);
  }
  addEventListener("pagehide", flush);

  function close(why) {
    flush();
    viewer?.dispose();
    viewer = null;
    stage.classList.remove("is-open");
    for (const one of tools) one.hidden = true;
    opening.hidden = false;
    flat.hidden = false;
    said.textContent = why;
  }
  async function open() {
    const button = opening.querySelector("button");
    button.disabled = true;
    said.textContent = words.loading;
    try {
      const [{ openMarks }, shape, marks] = await Promise.all([
        import("./parts/marks_view.js"),
        fetch(form.dataset.shape, { credentials: "same-origin" }),
        fetch(form.dataset.marks, { credentials: "same-origin" }),
      ]);
      if (!shape.ok || !marks.ok) throw new Error("no shape");
      const state = await marks.json();
      viewer = openMarks(stage, await shape.arrayBuffer(), {
        label: words.label,
        told: state.marks,
        lost: () => close(words.gone),
        chosen,
        choose: (key) => {
          form.querySelector(`input[name=mark][value="${key}"]`).checked = true;
          viewer.redraw();
        },
        put,
        missed: () => (said.textContent = words.missed),
      });
      stage.classList.add("is-open");
      told(state);
      for (const one of tools) one.hidden = false;
      opening.hidden = true;
      flat.hidden = true;
      viewer.canvas.focus({ preventScroll: true });
    } catch {
      close(words.cannot);
    }
    button.disabled = false;
  }

  form.addEventListener("change", () => {
    form.classList.toggle("ready", chosen() !== "");
    viewer?.redraw();
  });
  picture.addEventListener("click", (event) => {
    if (!chosen()) return;
    const box = picture.getBoundingClientRect();
    form.elements.across.value = ((event.clientX - box.left) / box.width).toFixed(5);
    form.requestSubmit();
  });
  form.addEventListener("submit", (event) => {
    if (!viewer) return;
    event.preventDefault();
    const name = event.submitter?.name;
    if (!["felt", "back", "undo"].includes(name)) return;
    flush();
    if (name !== "undo" && !chosen()) said.textContent = words.choose;
    else send({ mark: chosen(), [name]: "1" });
  });
  form.addEventListener("click", (event) => {
    const button = event.target.closest("[data-turn], [data-nudge]");
    if (!button || !viewer) return;
    if (button.dataset.turn) viewer.turn(button.dataset.turn);
    if (!button.dataset.nudge) return;
    if (!chosen()) {
      said.textContent = words.choose;
      return;
    }
    const at = viewer.nudge(chosen(), button.dataset.nudge, 2);
    if (at) put(chosen(), at, { later: true });
    else said.textContent = words.missed;
  });
  document.addEventListener("change", (event) => {
    const key = event.target.dataset?.felt;
    if (key) send({ mark: key, felt: event.target.checked ? "1" : "0" });
  });
  opening?.querySelector("button").addEventListener("click", open);
  closer.addEventListener("click", () => close(""));
  if (opening) opening.hidden = false;
}

for (const form of document.querySelectorAll("[data-pick]")) begin(form);
