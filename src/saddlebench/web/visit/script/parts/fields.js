// Reading a field of the page, and putting texts back into it.
export function textsOf(answer) {
  const name = answer.dataset.name;
  const inputs = [...answer.querySelectorAll(`[name="${CSS.escape(name)}"]`)];
  const isChosen = inputs.some((one) => one.type === "radio" || one.type === "checkbox");
  return (isChosen ? inputs.filter((one) => one.checked) : inputs).map((one) => one.value);
}

export function restore(answer, texts) {
  for (const input of answer.querySelectorAll(`[name="${CSS.escape(answer.dataset.name)}"]`)) {
    if (input.type === "radio") input.checked = texts.length ? texts.includes(input.value) : input.value === "";
    else if (input.type === "checkbox") input.checked = texts.includes(input.value);
    else input.value = texts[0] ?? "";
  }
  for (let group = answer.closest("details"); group; group = group.parentElement.closest("details")) group.open = true;
}

export function wordsOf(answer) {
  const label = answer.querySelector("legend, label");
  return label ? label.textContent.trim().replace(/\s+/g, " ") : answer.dataset.name;
}

export function showWaiting(item) {
  const place = item.field ? document.querySelector(`#${CSS.escape(`field-${item.field}`)} .about` ) : document.querySelector(`${item.target} .saved`);
  if (!place || place.querySelector(".waiting")) return;
  place.querySelector(".saved")?.remove();
  const note = document.createElement("p");
  note.className = "waiting";
  note.textContent = "≈ Not saved yet: no connection. It is kept in this browser and sent again by itself.";
  place.append(note);
}
