"use strict";
// Filters and sorts the long tables. Everything is readable without it; it loads nothing and sends nothing.
for (const table of document.querySelectorAll("table.sift")) {
  const body = table.tBodies[0];
  const rows = Array.from(body.rows);
  if (rows.length < 6) continue;
  const label = document.createElement("label");
  const box = document.createElement("input");
  const told = document.createElement("span");
  label.className = "sift-box";
  told.setAttribute("role", "status");
  box.type = "search";
  label.append("Show rows that contain ", box, " ", told);
  table.before(label);
  box.addEventListener("input", () => {
    const words = box.value.toLowerCase().split(/\s+/).filter(Boolean);
    let shown = 0;
    for (const row of rows) {
      const text = row.textContent.toLowerCase();
      row.hidden = !words.every((word) => text.includes(word));
      if (!row.hidden) shown += 1;
    }
    told.textContent = words.length ? shown + " of " + rows.length + " rows" : "";
  });
  Array.from(table.tHead.rows[0].cells).forEach((head, place) => {
    const button = document.createElement("button");
    button.type = "button";
    button.append(...head.childNodes);
    head.append(button);
    let turn = 1;
    button.addEventListener("click", () => {
      const key = (row) => row.cells[place].textContent.trim();
      const number = (text) => Number(text.replace(/[,\s%]/g, ""));
      rows.sort((one, other) => {
        const a = key(one), b = key(other), x = number(a), y = number(b);
        const both = a !== "" && b !== "" && !Number.isNaN(x) && !Number.isNaN(y);
        return turn * (both ? x - y : a.localeCompare(b, "en", { numeric: true }));
      });
      body.append(...rows);
      for (const other of table.tHead.rows[0].cells) other.removeAttribute("aria-sort");
      head.setAttribute("aria-sort", turn > 0 ? "ascending" : "descending");
      turn = -turn;
    });
  });
}
