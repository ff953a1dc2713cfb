// Says what waits in this browser, how long, and offers it as a file: a browser's memory is no archive.
const clock = (at) => new Date(at).toTimeString().slice(0, 5);

function fileOf(items) {
  const link = document.createElement("a");
  link.href = URL.createObjectURL(new Blob([JSON.stringify(items, null, 2)], { type: "application/json" }));
  link.download = `not-sent-${new Date().toISOString().slice(0, 16).replace(":", "")}.json`;
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), 1000);
}

export function draw(where, items, isFailing) {
  if (!where) return;
  const waiting = isFailing ? items.filter((one) => !one.draft && !one.refused) : [];
  const refused = items.filter((one) => one.refused && one.step && one.step !== location.pathname);
  const state = JSON.stringify([waiting.length, waiting[0]?.at, refused.length]);
  if (where.dataset.state === state) return;
  where.dataset.state = state;
  where.replaceChildren();
  if (waiting.length) {
    const note = document.createElement("p");
    const many = waiting.length === 1 ? "1 entry waits" : `${waiting.length} entries wait`;
    note.textContent = `≈ No connection: ${many} in this browser, the oldest from ${clock(waiting[0].at)}. Stay on this page; it is sent by itself.`;
    const button = document.createElement("button");
    button.type = "button";
    button.className = "quiet";
    button.textContent = "Keep as a file";
    button.addEventListener("click", () => fileOf(items));
    where.append(note, button);
  }
  if (refused.length) {
    const note = document.createElement("p");
    note.textContent = "Not saved, and kept in this browser:";
    const list = document.createElement("ul");
    for (const one of refused) {
      const line = document.createElement("li");
      const link = document.createElement("a");
      link.href = one.step;
      link.textContent = one.words;
      line.append(link);
      if (one.refused !== "look") line.append(`: ${one.refused}`);
      list.append(line);
    }
    where.append(note, list);
  }
}
