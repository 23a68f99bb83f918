// The view turns: the blocks drawn anew for any angle, in the painter's order that drawing/axonometry.py proves.
(() => {
  "use strict";
  const SVG = "http://www.w3.org/2000/svg";
  const SCALE = 16 * Math.SQRT2, FLATTENED = 0.5, RISE = 19.6, MARGIN = 34;
  const NORMALS = { E: [1, 0], N: [0, 1], W: [-1, 0], S: [0, -1] };
  const holder = document.querySelector(".turning");
  const source = document.getElementById("view-data");
  if (!holder || !source) return;
  const data = JSON.parse(source.textContent);
  const [width, depth, height] = data.size;

  const make = (tag, attributes, parent) => {
    const made = document.createElementNS(SVG, tag);
    for (const [name, value] of Object.entries(attributes)) made.setAttribute(name, value);
    if (parent) parent.append(made);
    return made;
  };

  // Vectors of the viewer at an angle: to the right in the picture, and away from him.
  // 0 degrees: from the south-west; 90: from the south-east.
  const lookFrom = (degrees) => {
    const angle = ((degrees - 45) * Math.PI) / 180;
    const right = [Math.cos(angle), Math.sin(angle)];
    return { right, away: [-right[1], right[0]] };
  };
  const dot = (a, b) => a[0] * b[0] + a[1] * b[1];
  const project = (view, x, y, z) => {
    const p = [x - width / 2, y - depth / 2];
    return [SCALE * dot(view.right, p), -SCALE * FLATTENED * dot(view.away, p) - RISE * z];
  };
  const path = (view, points, closed) =>
    "M" + points.map((p) => project(view, ...p).map((n) => n.toFixed(1)).join(",")).join("L") + (closed ? "Z" : "");

  // The corners of a side, and where a mark at (along, up) lies on it.
  const onSide = (shape, normal, along, up) => {
    const reach = normal[0] + normal[1] > 0 ? shape.high : shape.low;
    return normal[0] ? [reach[0], along, up] : [along, reach[1], up];
  };
  const sideCorners = (shape, normal) => {
    const axis = normal[0] ? 1 : 0;
    const [a, b] = [shape.low[axis], shape.high[axis]];
    return [[a, shape.low[2]], [b, shape.low[2]], [b, shape.high[2]], [a, shape.high[2]]].map(([along, up]) =>
      onSide(shape, normal, along, up));
  };

  // Path data by class of one shape, about the middle of its cell's floor; worked out once an angle.
  const drawn = (view, shape) => {
    const found = { l: "", r: "", t: "", m: "", f: "", w: "", v: "" };
    const local = { right: view.right, away: view.away };
    const put = (name, points, closed) => {
      found[name] += path(local, points.map(([x, y, z]) => [x + width / 2, y + depth / 2, z]), closed);
    };
    for (const normal of Object.values(NORMALS)) {
      if (dot(view.away, normal) > -1e-9) continue;
      put(dot(view.right, normal) < 0 ? "l" : "r", sideCorners(shape, normal), true);
      for (const [name, closed, points] of shape.side) {
        put(name, points.map(([along, up]) => onSide(shape, normal, along, up)), closed);
      }
    }
    const [[x0, y0], [x1, y1], z] = [shape.low, shape.high, shape.high[2]];
    put("t", [[x0, y0, z], [x1, y0, z], [x1, y1, z], [x0, y1, z]], true);
    for (const [name, closed, points] of shape.top) put(name, points.map(([px, py]) => [px, py, z]), closed);
    return found;
  };

  const radius = (Math.hypot(width, depth) / 2 + 1) * SCALE;
  const above = radius * FLATTENED + height * RISE + MARGIN;
  const full = [2 * (radius + MARGIN), above + radius * FLATTENED + MARGIN];
  const picture = make("svg", {
    class: "drawing axonometry turned", role: "img", "aria-label": data.title,
    viewBox: [-radius - MARGIN, -above, ...full].map((n) => n.toFixed(1)).join(" "), width: Math.round(2 * full[0]),
    height: Math.round(2 * full[1]),
  });
  const defs = make("defs", {}, picture);
  const shapes = data.shapes.map((shape, i) => {
    const group = make("g", { id: "turned" + i, class: "block k-" + shape.kind }, defs);
    const paths = {};
    for (const name of ["l", "r", "t", "m", "f", "w", "v"]) paths[name] = make("path", { class: name }, group);
    return { shape, paths };
  });
  const ground = make("g", { class: "grid" }, picture);
  const frame = make("path", { class: "frame on-ground" }, ground);
  const lines = make("path", {}, ground);
  const layers = data.bands.map((band) => make("g", { class: "layer band-" + band }, picture));
  const parts = data.parts.map(([shape, x, y, z]) => ({
    x, y, z, use: make("use", { href: "#turned" + shape }, layers[z]),
  }));
  const letters = Object.entries(data.letters).map(([side, letter]) => {
    const text = make("text", { class: "letter" }, picture);
    text.textContent = letter;
    return { normal: NORMALS[side], text };
  });

  const drawGround = (view) => {
    frame.setAttribute("d", path(view, [[0, 0, 0], [width, 0, 0], [width, depth, 0], [0, depth, 0]], true));
    let d = "";
    for (let x = 1; x < width; x++) d += path(view, [[x, 0, 0], [x, depth, 0]], false);
    for (let y = 1; y < depth; y++) d += path(view, [[0, y, 0], [width, y, 0]], false);
    lines.setAttribute("d", d);
    for (const { normal, text } of letters) {
      const near = dot(view.away, normal) < -0.2;
      const [x, y] = project(view, width / 2 + normal[0] * (width / 2 + 0.9), depth / 2 + normal[1] * (depth / 2 + 0.9), 0);
      text.setAttribute("x", x.toFixed(1));
      text.setAttribute("y", (y + 5).toFixed(1));
      text.setAttribute("visibility", near ? "visible" : "hidden");
    }
  };

  const draw = (degrees) => {
    const view = lookFrom(degrees);
    drawGround(view);
    for (const { shape, paths } of shapes) {
      for (const [name, d] of Object.entries(drawn(view, shape))) paths[name].setAttribute("d", d);
    }
    for (const part of parts) {
      const [x, y] = project(view, part.x + 0.5, part.y + 0.5, part.z);
      part.use.setAttribute("x", x.toFixed(1));
      part.use.setAttribute("y", y.toFixed(1));
      part.far = dot(view.away, [part.x, part.y]);
    }
    for (const part of [...parts].sort((a, b) => b.far - a.far)) layers[part.z].append(part.use);
  };

  const slider = document.getElementById("view-turn");
  const corners = [...holder.querySelectorAll('input[name="view-corner"]')];
  let due = false;
  const turnTo = (degrees) => {
    slider.value = ((Math.round(degrees) % 360) + 360) % 360;
    for (const corner of corners) corner.checked = corner.value === slider.value;
    if (due) return;
    due = true;
    requestAnimationFrame(() => {
      due = false;
      draw(Number(slider.value));
    });
  };

  let grip = null;
  picture.addEventListener("pointerdown", (event) => {
    grip = { x: event.clientX, degrees: Number(slider.value) };
    picture.setPointerCapture(event.pointerId);
  });
  picture.addEventListener("pointermove", (event) => {
    if (grip) turnTo(grip.degrees - (event.clientX - grip.x) / 2);
  });
  for (const end of ["pointerup", "pointercancel"]) picture.addEventListener(end, () => { grip = null; });
  slider.addEventListener("input", () => turnTo(Number(slider.value)));
  for (const corner of corners) corner.addEventListener("change", () => turnTo(Number(corner.value)));

  const chosen = corners.find((corner) => corner.checked);
  slider.value = chosen ? chosen.value : 0;
  draw(Number(slider.value));
  holder.querySelector(".pictures").append(picture);
  holder.querySelector(".turn").hidden = false;
  holder.classList.add("turns");
})();
