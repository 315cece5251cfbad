"use strict";
(() => {
  const body = document.querySelector("tbody");
  const heads = [...document.querySelectorAll("th")];
  const names = heads.map((head) => head.dataset.key);
  const rows = [...body.rows].map((row) => {
    const values = {};
    let column = 0;
    for (const cell of row.cells) {
      values[names[column]] = cell.dataset.value ?? cell.textContent.trim().toLowerCase();
      column += cell.colSpan;
    }
    return { row, values, text: row.textContent.toLowerCase(), rank: Number(row.dataset.rank) };
  });
  const field = (id) => document.getElementById(id);
  const filters = ["status", "model", "outcome", "signed"];
  const order = new Intl.Collator("en", { numeric: true });
  let most = 200; // a page that lists thousands of rows is slow to lay out; print lists all

  const show = () => {
    const words = field("search").value.toLowerCase().split(/\s+/).filter(Boolean);
    let shown = 0;
    for (const { row, text } of rows) {
      const fits = words.every((word) => text.includes(word)) &&
        filters.every((name) => !field(name).value || row.dataset[name] === field(name).value);
      row.hidden = !fits;
      shown += fits;
      row.classList.toggle("later", shown > most);
    }
    field("shown").textContent = `${shown} of ${rows.length} shown${shown > most ? `, the first ${most} listed` : ""}`;
    field("all").hidden = shown <= most;
  };

  const sort = (head) => {
    const key = head.dataset.key;
    const turn = head.getAttribute("aria-sort") === "ascending" ? -1 : 1;
    for (const other of heads) other.removeAttribute("aria-sort");
    head.setAttribute("aria-sort", turn > 0 ? "ascending" : "descending");
    const compare = key === "cost"
      ? (a, b) => (Number(a.values[key]) || 0) - (Number(b.values[key]) || 0)
      : key === "status"
        ? (a, b) => a.rank - b.rank
        : (a, b) => order.compare(a.values[key] ?? "", b.values[key] ?? "");
    rows.sort((a, b) => turn * compare(a, b) || a.rank - b.rank);
    body.append(...rows.map((item) => item.row));
    show();
  };

  for (const head of heads) head.firstElementChild.addEventListener("click", () => sort(head));
  for (const name of [...filters, "search"]) field(name).addEventListener("input", show);
  field("all").addEventListener("click", () => { most = Infinity; show(); });
  document.querySelector(".controls").hidden = false;
  show();
})();
