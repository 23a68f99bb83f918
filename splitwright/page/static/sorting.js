// Tables that sort by their columns: a native button in each heading, and aria-sort on the one that is sorted by
// (WAI-ARIA Authoring Practices, "Table", sortable rows). Without this script rows stand in the order of the file.
(() => {
  "use strict";

  const sort = (table, heading) => {
    const headings = [...table.tHead.rows[0].cells];
    const column = headings.indexOf(heading);
    const back = heading.getAttribute("aria-sort") === "ascending";
    for (const other of headings) other.removeAttribute("aria-sort");
    heading.setAttribute("aria-sort", back ? "descending" : "ascending");
    const isNumber = heading.dataset.sort === "number";
    const language = document.documentElement.lang || undefined;

    const compare = (one, other) => {
      const a = one.cells[column].dataset.key;
      const b = other.cells[column].dataset.key;
      if (a === "" || b === "") return (a === "") - (b === ""); // what is not known stands last in both directions
      const order = isNumber ? Number(a) - Number(b) : a.localeCompare(b, language, { numeric: true });
      return back ? -order : order;
    };

    const body = table.tBodies[0];
    const ranked = [...body.rows].sort((one, other) => Number(one.dataset.number) - Number(other.dataset.number));
    body.append(...ranked.sort(compare)); // a stable sort: those that are alike stand by rank
  };

  for (const table of document.querySelectorAll("table.sortable")) {
    for (const heading of table.tHead.rows[0].cells) {
      if (!heading.dataset.sort) continue;
      const button = document.createElement("button");
      button.type = "button";
      button.append(...heading.childNodes);
      heading.append(button);
      button.addEventListener("click", () => sort(table, heading));
    }
    for (const hint of document.querySelectorAll(".sorting-hint")) hint.hidden = false;
  }
})();
