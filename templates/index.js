(() => {
  "use strict";
  const form = document.getElementById("choose");
  const words = document.getElementById("words");
  const decision = document.getElementById("decision");
  const status = document.getElementById("status");
  const tables = [...document.querySelectorAll("table.sorts")];
  if (!form || !words || !decision || !status) return;
  const collator = new Intl.Collator("en-GB", { numeric: true, sensitivity: "base" });
  const rowsOf = table => [...table.tBodies[0].rows];
  const plain = text => text.normalize("NFKC").toLocaleLowerCase("en-GB").replaceAll("−", "-");

  // What a cell is sorted by: what it states, the number it holds, or its words; nothing sorts last either way.
  const keyOf = (row, column) => {
    const cell = row.cells[column];
    const given = cell.dataset.sort ?? cell.querySelector("data")?.value ?? cell.textContent.trim();
    if (given === "" || given === "–") return null;
    const number = Number(given);
    return Number.isFinite(number) ? number : given;
  };
  const compare = (a, b) => (typeof a === "number" && typeof b === "number" ? a - b : collator.compare(String(a), String(b)));

  const sort = (table, head, falling) => {
    const column = head.cellIndex;
    const keyed = rowsOf(table).map(row => ({ row, key: keyOf(row, column), place: Number(row.dataset.place) }));
    keyed.sort((a, b) => {
      if (a.key === null || b.key === null) return (a.key === null) - (b.key === null) || a.place - b.place;
      const order = compare(a.key, b.key);
      return (falling ? -order : order) || a.place - b.place;
    });
    for (const other of table.tHead.rows[0].cells) other.removeAttribute("aria-sort");
    head.setAttribute("aria-sort", falling ? "descending" : "ascending");
    table.tBodies[0].append(...keyed.map(each => each.row));
    status.textContent = "Sorted by " + head.textContent + ", " + (falling ? "largest" : "smallest") + " first.";
  };

  for (const table of tables) {
    rowsOf(table).forEach((row, place) => { row.dataset.place = place; row.dataset.words = plain(row.textContent); });
    for (const head of table.tHead.rows[0].cells) {
      const button = document.createElement("button");
      button.type = "button";
      button.append(...head.childNodes);
      head.append(button);
      button.addEventListener("click", () => sort(table, head, head.getAttribute("aria-sort") === "ascending"));
    }
  }

  const filter = () => {
    const wanted = plain(words.value).split(/\s+/).filter(Boolean);
    let shown = 0;
    let all = 0;
    for (const table of tables) {
      for (const row of rowsOf(table)) {
        const fits = wanted.every(word => row.dataset.words.includes(word));
        row.hidden = !fits || (decision.value !== "" && (row.dataset.decision ?? "") !== decision.value);
        all += 1;
        shown += row.hidden ? 0 : 1;
      }
    }
    status.textContent = shown + " of " + all + (all === 1 ? " row" : " rows") + " shown.";
  };
  words.addEventListener("input", filter);
  decision.addEventListener("change", filter);
  form.addEventListener("reset", () => setTimeout(filter));
  form.addEventListener("submit", event => event.preventDefault());
  form.hidden = false;
  filter();
})();
