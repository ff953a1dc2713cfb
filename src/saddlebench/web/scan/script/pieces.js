// Places on the pieces of a scan: a tap on a piece fills the chosen place's field, and the next is chosen.
for (const form of document.querySelectorAll("[data-pieces]")) {
  const words = JSON.parse(form.dataset.words);
  for (const piece of form.querySelectorAll("[data-piece]")) begin(piece, words);
}

async function begin(piece, words) {
  const said = piece.querySelector("[data-said]");
  const radios = [...piece.querySelectorAll("input[type=radio]")];
  const field = (name) => piece.querySelector(`input[name="${name}"]`);
  const chosen = () => radios.find((one) => one.checked)?.value ?? "";
  const at = (name) => {
    const numbers = field(name).value.trim().split(/\s+/).map(Number);
    return numbers.length === 3 && numbers.every(Number.isFinite) ? numbers : null;
  };
  (radios.find((one) => !at(one.value)) ?? radios[0]).checked = true;
  said.textContent = words.loading;
  try {
    const [{ openPiece }, answer] = await Promise.all([
      import("./parts/piece_view.js"),
      fetch(piece.dataset.piece, { credentials: "same-origin" }),
    ]);
    if (!answer.ok) throw new Error(String(answer.status));
    const viewer = openPiece(piece.querySelector("[data-stage]"), await answer.arrayBuffer(), {
      label: `${piece.querySelector("h2").textContent}: ${words.label}`,
      places: () => radios.map((one, k) => ({ key: one.value, letter: String(k + 1), at: at(one.value), isChosen: one.checked })),
      put(place) {
        const name = chosen();
        field(name).value = place.map((one) => Number(one.toPrecision(7))).join(" ");
        piece.querySelector(`[data-state="${name}"]`).textContent = words.set;
        const next = radios.find((one) => !at(one.value));
        said.textContent = next ? words.next : words.all;
        if (next) next.checked = true;
        viewer.redraw();
      },
      missed: () => (said.textContent = words.missed),
      lost: () => (said.textContent = words.gone),
    });
    piece.addEventListener("change", viewer.redraw);
    said.textContent = words.choose;
  } catch {
    piece.querySelector("[data-stage]").hidden = true;
    piece.querySelector("details").open = true;
    said.textContent = words.cannot;
  }
}
