// Sending a scan, with how much of each file is there already: a large one takes minutes from a phone.
const MB = (bytes) => (bytes / 1e6).toFixed(bytes < 1e7 ? 1 : 0);

function rowsFor(list, files) {
  list.replaceChildren();
  return files.map((file) => {
    const row = document.createElement("li");
    const bar = document.createElement("progress");
    const said = document.createElement("span");
    bar.max = 1;
    bar.value = 0;
    bar.setAttribute("aria-label", file.name);
    said.className = "detail";
    row.append(document.createTextNode(file.name), bar, said);
    list.append(row);
    return { bar, said, size: file.size };
  });
}

// The files go one after another in one request: how much is sent says which of them is on its way.
function fill(rows, loaded, total, words) {
  let before = Math.max(0, total - rows.reduce((sum, row) => sum + row.size, 0));
  for (const row of rows) {
    const there = Math.min(row.size, Math.max(0, loaded - before));
    row.bar.value = row.size ? there / row.size : 1;
    row.said.textContent = there >= row.size ? words.sent : `${MB(there)} / ${MB(row.size)} MB`;
    before += row.size;
  }
}

for (const form of document.querySelectorAll("form[data-bring]")) {
  const box = form.querySelector("[data-sending]");
  const said = form.querySelector("[data-sending-said]");
  const button = form.querySelector("button[type=submit]");
  const words = JSON.parse(form.dataset.words);
  let request = null;

  function over(words) {
    request = null;
    button.disabled = false;
    said.textContent = words;
  }
  form.addEventListener("submit", (event) => {
    const files = [...form.querySelector("input[type=file]").files];
    if (!files.length || request) return;
    event.preventDefault();
    const rows = rowsFor(form.querySelector("[data-sending-files]"), files);
    box.hidden = false;
    button.disabled = true;
    said.textContent = words.sending;
    request = new XMLHttpRequest();
    request.open("POST", form.action);
    request.upload.addEventListener("progress", (now) => fill(rows, now.loaded, now.total, words));
    request.upload.addEventListener("load", () => {
      for (const row of rows) {
        row.bar.value = 1;
        row.said.textContent = words.sent;
      }
      said.textContent = words.checking;
    });
    request.addEventListener("load", () => {
      const arrived = request.responseURL;
      // Begun: the answer's address is that of the work. Otherwise the answer is this page with its problems.
      if (request.status < 400 && arrived && new URL(arrived).pathname !== location.pathname) {
        location.assign(arrived);
        return;
      }
      const answer = new DOMParser().parseFromString(request.responseText, "text/html");
      const content = answer.querySelector("#content");
      over(words.refused);
      if (!content) return;
      const problems = content.querySelector(".problem");
      form.querySelector("[data-answer]")?.remove();
      if (problems) {
        const shown = document.importNode(problems, true);
        shown.dataset.answer = "";
        shown.setAttribute("role", "alert");
        form.prepend(shown);
        shown.scrollIntoView();
      }
    });
    request.addEventListener("error", () => over(words.lost));
    request.addEventListener("abort", () => over(words.stopped));
    request.send(new FormData(form));
  });
  form.querySelector("[data-sending-stop]").addEventListener("click", () => request?.abort());
}
