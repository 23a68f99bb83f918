// Sentences point to their cells: while one is looked at, its parts stand out on the plans. Who follows one to a plan
// is led back to it, by a button or by Escape.
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

  // -- the way back

  const plans = document.querySelector("[data-back]");
  let back = null;
  let left = null; // the link that was followed

  const hideBack = () => {
    left = null;
    if (back) back.hidden = true;
  };

  const goBack = () => {
    const link = left;
    hideBack();
    for (let box = link.parentElement; box; box = box.parentElement) {
      if (box.localName === "details") box.open = true;
    }
    link.focus({ preventScroll: true });
    link.scrollIntoView({ block: "center" });
  };

  // The button stands right after the plan, so that Tab leads from there to it.
  const offerBack = (link) => {
    const [part] = partsOf(link);
    const plan = part && part.closest("figure");
    if (!plans || !plan) return;
    if (!back) {
      back = document.createElement("button");
      back.type = "button";
      back.className = "back-there screen";
      back.textContent = plans.dataset.back;
      back.addEventListener("click", goBack);
    }
    plan.append(back);
    back.hidden = false;
    left = link;
  };

  document.addEventListener("keydown", (event) => {
    if (event.key === "Escape" && left) goBack();
  });
  // Gone elsewhere, by another link or by the browser's own way back.
  window.addEventListener("hashchange", () => {
    if (left && left.hash !== location.hash) hideBack();
  });

  let chosen = null;
  for (const link of document.querySelectorAll("a.cells")) {
    for (const [come, go] of [["pointerenter", "pointerleave"], ["focus", "blur"]]) {
      link.addEventListener(come, () => mark(link, true));
      link.addEventListener(go, () => { if (link !== chosen) mark(link, false); });
    }
    link.addEventListener("click", (event) => {
      if (chosen) mark(chosen, false);
      chosen = link;
      mark(link, true);
      const isElsewhere = event.ctrlKey || event.metaKey || event.shiftKey; // in a window of its own
      if (!isElsewhere) offerBack(link);
    });
  }

  // Paper shows what is folded; a browser that CSS cannot tell so has it unfolded.
  if (!CSS.supports("selector(::details-content)")) {
    let folded = [];
    window.addEventListener("beforeprint", () => {
      folded = [...document.querySelectorAll("details:not([open])")];
      for (const one of folded) one.open = true;
    });
    window.addEventListener("afterprint", () => {
      for (const one of folded) one.open = false;
    });
  }
})();
