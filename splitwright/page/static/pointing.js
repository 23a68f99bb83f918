// Sentences point to their cells: while one is looked at, its parts stand out on the plans.
(() => {
  "use strict";
  const POINTED = "is-pointed";

  const partsOf = (link) =>
    (link.dataset.cells || link.hash.slice(1))
      .split(" ")
      .map((id) => document.getElementById(id))
      .filter(Boolean);

  const mark = (link, on) => {
    for (const part of partsOf(link)) part.classList.toggle(POINTED, on);
  };

  let chosen = null;
  for (const link of document.querySelectorAll("a.cells")) {
    for (const [come, go] of [["pointerenter", "pointerleave"], ["focus", "blur"]]) {
      link.addEventListener(come, () => mark(link, true));
      link.addEventListener(go, () => { if (link !== chosen) mark(link, false); });
    }
    link.addEventListener("click", () => {
      if (chosen) mark(chosen, false);
      chosen = link;
      mark(link, true);
    });
  }
})();
