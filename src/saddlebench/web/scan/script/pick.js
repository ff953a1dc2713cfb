// A tap on the picture sets the chosen mark there; without script the numbers below do the same.
for (const form of document.querySelectorAll("[data-pick]")) {
  const picture = form.querySelector("img");
  const marks = () => form.querySelector("input[name=mark]:checked");
  const ready = () => form.classList.toggle("ready", marks() !== null);
  form.addEventListener("change", ready);
  picture.addEventListener("click", (event) => {
    if (marks() === null) return;
    const box = picture.getBoundingClientRect();
    form.elements.across.value = ((event.clientX - box.left) / box.width).toFixed(5);
    form.requestSubmit();
  });
  ready();
}
