// The number being entered stands out on the drawing that explains it; what is typed is kept on the server.
const form = document.querySelector("[data-saddle]");

function mark(event) {
  const path = event.target.dataset?.shownBy;
  for (const one of form.querySelectorAll(".dim")) one.classList.toggle("now", Boolean(path) && one.dataset.shows === path);
}

if (form) {
  // From the first key on, what stands in the form is kept on the server with every field that is left.
  form.addEventListener("input", () => {
    form.elements.namedItem("typed").value = "1";
  });
  form.addEventListener("focusin", mark);
  for (const dim of form.querySelectorAll(".dim")) {
    dim.addEventListener("click", () => form.querySelector(`[data-shown-by="${dim.dataset.shows}"]`)?.focus());
  }
}
