// Ticks in the build order: kept in this browser, under the layout's own digest, where it has a place for them.
(() => {
  "use strict";
  const boxes = document.querySelectorAll("input[data-step]");
  const layout = document.querySelector("[data-layout]");
  if (!layout) return;
  const name = "splitwright-steps " + layout.dataset.layout;

  const kept = () => {
    try {
      const found = JSON.parse(localStorage.getItem(name) || "[]");
      return new Set(Array.isArray(found) ? found : []);
    } catch {
      return new Set();
    }
  };

  const keep = () => {
    const ticked = [...boxes].filter((box) => box.checked).map((box) => box.dataset.step);
    try {
      localStorage.setItem(name, JSON.stringify(ticked));
    } catch {
      // No place to keep them: the ticks last as long as the page.
    }
  };

  const before = kept();
  for (const box of boxes) {
    box.checked = before.has(box.dataset.step);
    box.addEventListener("change", keep);
  }

  // Who has begun goes on where the next step is.
  const next = [...boxes].find((box) => !box.checked);
  const folded = before.size && next ? next.closest("details") : null;
  if (folded) folded.open = true;

  // A button that takes all of them away, above the first step.
  if (!boxes.length) return;
  const clear = document.createElement("button");
  clear.type = "button";
  clear.className = "clear-ticks screen";
  clear.textContent = layout.dataset.clear;
  clear.addEventListener("click", () => {
    for (const box of boxes) box.checked = false;
    keep();
  });
  const first = layout.querySelector("details");
  if (first) first.before(clear);
  else layout.append(clear);
})();
