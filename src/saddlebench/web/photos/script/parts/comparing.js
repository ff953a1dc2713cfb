// Two photos over each other, with a slider that is an ordinary range: fingers and arrow keys both move it.
export function startComparing() {
  const compare = document.querySelector("[data-compare]");
  const slide = document.querySelector("[data-slide]");
  const apart = document.querySelector("[data-apart]");
  if (!compare || !slide || !apart) return;
  const put = () => {
    compare.style.setProperty("--shown", `${slide.value}%`);
    slide.setAttribute("aria-valuetext", `${slide.value} % before`);
  };
  compare.classList.add("over");
  slide.addEventListener("input", put);
  apart.addEventListener("click", () => {
    const isOver = compare.classList.toggle("over");
    apart.setAttribute("aria-pressed", String(!isOver));
    slide.closest("p").hidden = !isOver;
  });
  put();
}
