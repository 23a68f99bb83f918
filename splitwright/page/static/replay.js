// Plays the record of a trial on the stage, with a cursor on waves and chart. What it shows can be read off the page:
// data-tick and data-playing on .replay, is-on and is-locked on parts, the texts of .count and .level.
(() => {
  "use strict";
  const panel = document.querySelector(".replay");
  if (!panel) return;
  const data = JSON.parse(document.getElementById("replay-data").textContent);
  const find = (selector) => panel.querySelector(selector);
  const STRIDE = 200; // ticks from one kept state to the next
  const OUTSIDE = -1;

  // -- the record unpacked

  // A flat list of entries, each led by the ticks since the one before: [[tick, ...numbers], ...]
  const unpack = (flat, size) => {
    const found = [];
    let tick = 0;
    for (let i = 0; i < flat.length; i += size) {
      tick += flat[i];
      found.push([tick, ...flat.slice(i + 1, i + size)]);
    }
    return found;
  };

  const moves = unpack(data.moves, 4);
  const changes = unpack(data.burnt, 3).map(([tick, cell]) => [tick, cell, -1]);
  for (const [tick, from, to] of moves) {
    if (from !== OUTSIDE) changes.push([tick, from, -1]);
    changes.push([tick, to, 1]);
  }
  changes.sort((one, other) => one[0] - other[0]);

  // The place of the first entry after a tick
  const firstAfter = (entries, tick) => {
    let low = 0;
    let high = entries.length;
    while (low < high) {
      const middle = (low + high) >> 1;
      if (entries[middle][0] > tick) high = middle;
      else low = middle + 1;
    }
    return low;
  };

  const valueAt = (entries, tick) => {
    const place = firstAfter(entries, tick);
    return place ? entries[place - 1][1] : 0;
  };

  // -- what containers hold: forward from the last state, or from a kept one

  const start = new Int32Array(data.cells.length);
  for (let i = 0; i < data.start.length; i += 3) start[data.start[i]] += data.start[i + 2];
  const kept = [];
  const held = { tick: 0, next: 0, counts: start.slice() };

  const forward = (tick) => {
    while (held.next < changes.length && changes[held.next][0] <= tick) {
      held.counts[changes[held.next][1]] += changes[held.next][2];
      held.next += 1;
    }
    held.tick = tick;
  };

  for (let tick = 0; tick <= data.until; tick += STRIDE) {
    forward(tick);
    kept.push({ next: held.next, counts: held.counts.slice() });
  }

  const countsAt = (tick) => {
    const place = Math.floor(tick / STRIDE);
    if (tick < held.tick || place * STRIDE > held.tick) {
      held.next = kept[place].next;
      held.counts = kept[place].counts.slice();
    }
    forward(tick);
    return held.counts;
  };

  // -- the stage

  const partAt = new Map();
  for (const part of panel.querySelectorAll(".replay-stage [data-cell]")) partAt.set(part.dataset.cell, part);
  const parts = data.cells.map((cell) => partAt.get(cell));
  const heights = data.cells.map((cell) => Number(cell.split(",")[2]));
  const countTexts = parts.map((part) => part && part.querySelector(".count"));
  const shownCounts = new Int32Array(data.cells.length).fill(-1);
  const traces = [
    ...data.signals.map(([cells, trace]) => ({ cells, steps: unpack(trace, 2), mark: "is-on", shown: -1 })),
    ...data.locks.map(([cells, trace]) => ({ cells, steps: unpack(trace, 2), mark: "is-locked", shown: -1 })),
  ];

  const showCounts = (tick) => {
    const counts = countsAt(tick);
    for (let i = 0; i < counts.length; i += 1) {
      if (counts[i] !== shownCounts[i] && countTexts[i]) countTexts[i].textContent = counts[i] ? counts[i] : "";
      shownCounts[i] = counts[i];
    }
  };

  const showTraces = (tick) => {
    for (const trace of traces) {
      const value = valueAt(trace.steps, tick);
      if (value === trace.shown) continue;
      trace.shown = value;
      for (const cell of trace.cells) {
        const part = parts[cell];
        if (!part) continue;
        part.classList.toggle(trace.mark, value > 0);
        const level = trace.mark === "is-on" && part.querySelector(".level");
        if (level) level.textContent = value ? value : "";
      }
    }
  };

  // -- layers in rows of as many as there is room for: on a phone one below another, never too small to read

  const picture = find("svg.stage");
  const layers = [...picture.querySelectorAll(".stage-layer")].map((group) => {
    const { e: left, f: top } = group.transform.baseVal.consolidate().matrix;
    return { group, left, top };
  });
  const [roomAcross, roomDown] = picture.dataset.room.split(",").map(Number);
  const acrossMost = Number(picture.dataset.across);
  const places = data.places.map((place) => place.slice());
  let across = acrossMost;

  const arrange = (width) => {
    const wanted = Math.min(acrossMost, Math.max(1, Math.floor(width / roomAcross)));
    if (wanted === across) return false;
    across = wanted;
    const size = [across * roomAcross, Math.ceil(layers.length / across) * roomDown];
    picture.setAttribute("viewBox", [0, 0, ...size].join(" "));
    picture.setAttribute("width", size[0]);
    picture.setAttribute("height", size[1]);
    const [first] = layers; // in a corner in any arrangement
    const shifts = layers.map(({ group, left, top }, z) => {
      const x = first.left + (z % across) * roomAcross;
      const y = first.top + Math.floor(z / across) * roomDown;
      group.setAttribute("transform", `translate(${x} ${y})`);
      return [x - left, y - top];
    });
    data.places.forEach(([x, y], i) => {
      const [right, down] = shifts[heights[i]];
      places[i] = [x + right, y + down];
    });
    return true;
  };

  // -- items on their way: while playing they glide up to the tick of their move; else the moves of the tick are shown

  const SVG = "http://www.w3.org/2000/svg";
  const layer = find(".replay-stage .movers");
  const shapes = [...panel.querySelectorAll(".replay-legend .mover")];
  const pool = [];
  let inUse = 0;

  const mover = (place) => {
    if (!pool[place]) {
      const group = document.createElementNS(SVG, "g");
      const way = document.createElementNS(SVG, "line");
      const left = document.createElementNS(SVG, "circle");
      way.setAttribute("class", "way");
      left.setAttribute("class", "left");
      left.setAttribute("r", 9);
      group.append(way, left);
      layer.append(group);
      pool[place] = { group, way, left, item: -1, shape: null };
    }
    return pool[place];
  };

  // ``part`` of the way is done. Within a layer an item glides along; from layer to layer it sinks out of the one and
  // comes up in the other. Standing still it is where it came to, with its way in dashes, or a ring where it was.
  const showMover = (place, [, from, to, item], part, isStill) => {
    const made = mover(place);
    if (made.item !== item) {
      if (made.shape) made.shape.remove();
      made.shape = shapes[item].cloneNode(true);
      made.item = item;
      made.group.append(made.shape);
    }
    const [toX, toY] = places[to];
    const [fromX, fromY] = from === OUTSIDE ? [toX, toY] : places[from];
    const isWithin = from !== OUTSIDE && heights[from] === heights[to];
    const share = isWithin ? part : part < 0.5 ? 0 : 1;
    const size = isWithin ? 1 : Math.abs(2 * part - 1);
    const x = fromX + (toX - fromX) * share;
    const y = fromY + (toY - fromY) * share;
    made.shape.setAttribute("transform", `translate(${x.toFixed(1)} ${y.toFixed(1)})scale(${size.toFixed(2)})`);
    made.way.setAttribute("x1", fromX);
    made.way.setAttribute("y1", fromY);
    made.way.setAttribute("x2", x.toFixed(1));
    made.way.setAttribute("y2", y.toFixed(1));
    made.way.classList.toggle("is-shown", isStill && isWithin);
    made.left.setAttribute("cx", fromX);
    made.left.setAttribute("cy", fromY);
    made.left.classList.toggle("is-shown", isStill && from !== OUTSIDE && !isWithin);
    made.group.removeAttribute("visibility");
  };

  const showMovers = (now, glides) => {
    const tick = Math.floor(now);
    // A glide takes a fifth of a second, at least half a tick and at most half a node's period.
    const hop = Math.min(Math.max(0.5, rate() / 5), Math.max(1, data.period / 2));
    const [after, last] = glides ? [now, now + hop] : [tick - 1, tick];
    let place = 0;
    for (let i = firstAfter(moves, after); i < moves.length && moves[i][0] <= last; i += 1) {
      showMover(place, moves[i], glides ? 1 - (moves[i][0] - now) / hop : 1, !glides);
      place += 1;
    }
    for (let i = place; i < inUse; i += 1) pool[i].group.setAttribute("visibility", "hidden");
    inUse = place;
  };

  // -- cursors, readout, table

  const pictures = [...panel.querySelectorAll("svg[data-unit]")].map((svg) => ({
    svg,
    left: Number(svg.dataset.left),
    unit: Number(svg.dataset.unit),
    cursor: svg.querySelector(".cursor"),
    box: svg.closest(".wide"),
    labels: svg.querySelector(".labels"),
    families: [...svg.querySelectorAll(".labels .family")],
  }));
  const bar = find(".replay-time input");
  const readout = find(".replay-readout");
  const soFar = [...panel.querySelectorAll("td.so-far")];
  const delivered = data.delivered.flatMap((stream) => stream.counts.map((counts) => unpack(counts, 2)));

  const numberText = (number, digits) => {
    const [whole, rest] = number.toFixed(digits).split(".");
    const grouped = whole.replace(/\B(?=(\d{3})+$)/g, () => data.thousands);
    return rest ? grouped + data.decimal + rest : grouped;
  };

  const timeText = (tick) =>
    data.readout.replace(/\{(tick|seconds)\}/g, (_, name) =>
      name === "tick" ? numberText(tick, 0) : numberText(tick / data.ticksPerSecond, 2));

  // -- waves and chart where they are wider than their box: names of rows stay in sight, and so does the cursor

  const LABELS_SHARE = 0.35; // of the box that names of rows may take once it is scrolled
  const scaleOf = (svg) => svg.getBoundingClientRect().width / svg.viewBox.baseVal.width || 1;

  // How much of the room for names is out of sight once the box is scrolled, in units of the picture; short names
  // stand in the rest of it.
  const tucked = ({ svg, left, box, labels }) =>
    labels ? Math.max(0, left - (LABELS_SHARE * box.clientWidth) / scaleOf(svg)) : 0;

  const keepLabels = (view) => {
    const scrolled = Math.max(0, view.box.scrollLeft) / scaleOf(view.svg);
    const hidden = Math.min(scrolled, tucked(view));
    view.labels.setAttribute("transform", `translate(${(scrolled - hidden).toFixed(1)} 0)`);
    view.labels.classList.toggle("is-tucked", hidden > 0);
    for (const family of view.families) family.setAttribute("transform", `translate(${hidden.toFixed(1)} 0)`);
  };

  // Scrolls the box, never the page, and at once: no motion that anybody would have to be spared.
  const keepCursor = (view, tick) => {
    const { svg, left, unit, box, labels } = view;
    if (box.scrollWidth <= box.clientWidth) return;
    const scale = scaleOf(svg);
    const strip = labels ? Math.min(left * scale, LABELS_SHARE * box.clientWidth) : 0;
    const x = (left + tick * unit) * scale;
    if (x >= box.scrollLeft + strip - 1 && x <= box.scrollLeft + box.clientWidth - 8) return;
    box.scrollLeft = Math.max(tucked(view) * scale, x - strip - (box.clientWidth - strip) / 4);
  };

  // -- time

  const play = find(".replay-play");
  const rates = find(".replay-rate select");
  const still = window.matchMedia("(prefers-reduced-motion: reduce)");
  const rate = () => Number(rates.value);
  let now = 0;
  let isPlaying = false;
  let before = null;

  const show = () => {
    const tick = Math.floor(now);
    showCounts(tick);
    showTraces(tick);
    showMovers(now, isPlaying && !still.matches);
    for (const { cursor, unit } of pictures) cursor.setAttribute("transform", `translate(${(tick * unit).toFixed(2)} 0)`);
    if (Number(panel.dataset.tick) === tick && readout.textContent) return;
    panel.dataset.tick = tick;
    bar.value = tick;
    readout.textContent = timeText(tick);
    if (!isPlaying) bar.setAttribute("aria-valuetext", timeText(tick));
    if (panel.classList.contains("is-live")) for (const view of pictures) keepCursor(view, tick);
    soFar.forEach((cell, i) => {
      cell.textContent = numberText(valueAt(delivered[i], tick), 0);
    });
  };

  const setPlaying = (wanted) => {
    isPlaying = wanted;
    before = null;
    panel.dataset.playing = wanted;
    play.textContent = wanted ? play.dataset.pause : play.dataset.play;
    // Spoken aloud only where it stands still.
    readout.setAttribute("aria-live", wanted ? "off" : "polite");
    if (wanted) bar.removeAttribute("aria-valuetext");
  };

  const frame = (time) => {
    if (!isPlaying) return;
    const seconds = before === null ? 0 : Math.min(0.25, (time - before) / 1000);
    before = time;
    now = Math.min(data.until, now + seconds * rate());
    if (now >= data.until) halt();
    else show();
    window.requestAnimationFrame(frame);
  };

  const halt = () => {
    setPlaying(false);
    now = Math.floor(now);
    show();
    bar.setAttribute("aria-valuetext", timeText(now));
  };

  const toggle = () => {
    if (isPlaying) {
      halt();
      return;
    }
    if (now >= data.until) now = 0;
    setPlaying(true);
    window.requestAnimationFrame(frame);
  };

  const goTo = (tick) => {
    now = Math.min(data.until, Math.max(0, tick));
    show();
  };

  const stepBy = (ticks) => {
    const tick = Math.floor(now) + ticks;
    setPlaying(false);
    goTo(tick);
  };

  // -- hands on

  play.addEventListener("click", toggle);
  find(".replay-back").addEventListener("click", () => stepBy(-1));
  find(".replay-forward").addEventListener("click", () => stepBy(1));
  bar.addEventListener("input", () => goTo(Number(bar.value)));
  for (const place of [find(".replay-stage"), bar]) {
    place.addEventListener("keydown", (event) => {
      if (event.key !== " " || event.ctrlKey || event.altKey || event.metaKey) return;
      event.preventDefault();
      if (!event.repeat) toggle();
    });
  }

  for (const { svg, left, unit } of pictures) {
    svg.addEventListener("click", (event) => {
      const x = new DOMPoint(event.clientX, event.clientY).matrixTransform(svg.getScreenCTM().inverse()).x;
      if (x >= left - 4) goTo(Math.round((x - left) / unit));
    });
  }

  for (const view of pictures) {
    if (view.labels) view.box.addEventListener("scroll", () => keepLabels(view));
  }

  find(".replay-controls").hidden = false;
  find(".replay-playing").hidden = false;
  for (const cell of panel.querySelectorAll(".so-far")) cell.hidden = false;
  panel.classList.add("is-live");
  setPlaying(false);
  show();
  for (const view of pictures) view.box.scrollLeft = Math.ceil(tucked(view) * scaleOf(view.svg));
  const stageBox = find(".replay-stage");
  new ResizeObserver(([entry]) => {
    if (arrange(entry.contentRect.width)) show();
  }).observe(stageBox);
})();
