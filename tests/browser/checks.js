/* What checks.py asks of a page from within. */
globalThis.splitwrightChecks = (() => {
  "use strict";
  let interactive = [];
  let before = [];

  const name = (element) => {
    const id = element.id ? `#${element.id}` : "";
    const text = (element.getAttribute("aria-label") || element.textContent || "").trim().replace(/\s+/g, " ");
    return `<${element.localName}${id}> ${element.getAttribute("name") || ""} "${text.slice(0, 60)}"`;
  };

  const isVisible = (element) => {
    const box = element.getBoundingClientRect();
    return element.checkVisibility({ visibilityProperty: true, contentVisibilityAuto: true })
      && (box.width > 0 || box.height > 0);
  };

  /* A hidden native control may be drawn by its label or by what follows it. */
  const drawing = (element) => [
    element, ...(element.labels || []), element.nextElementSibling, element.parentElement,
  ].filter(Boolean);

  const look = (element) => drawing(element).map((one) => {
    const style = getComputedStyle(one);
    const isOutlined = style.outlineStyle !== "none" && parseFloat(style.outlineWidth) > 0;
    return { outline: isOutlined ? `${style.outlineStyle} ${style.outlineWidth} ${style.outlineColor}` : "",
             shadow: style.boxShadow === "none" ? "" : style.boxShadow };
  });

  const isShown = (element, unfocused) => look(element).some((now, index) => {
    const then = unfocused[index] || { outline: "", shadow: "" };
    return (now.outline && now.outline !== then.outline) || (now.shadow && now.shadow !== then.shadow);
  });

  /* Of the part of the element that is in the window, whether anything is to be seen: a grid of points in it. */
  const isCovered = (element) => {
    const box = element.getBoundingClientRect();
    const [left, right] = [Math.max(box.left, 0), Math.min(box.right, innerWidth)];
    const [top, bottom] = [Math.max(box.top, 0), Math.min(box.bottom, innerHeight)];
    if (right <= left || bottom <= top) return true;
    const shares = [0.1, 0.3, 0.5, 0.7, 0.9];
    return !shares.some((across) => shares.some((down) => {
      const hit = document.elementFromPoint(left + across * (right - left), top + down * (bottom - top));
      return hit && [element, ...(element.labels || [])].some((one) => one.contains(hit));
    }));
  };

  const begin = (selector) => {
    if (document.activeElement) document.activeElement.blur();
    interactive = [...document.querySelectorAll(selector)];
    before = interactive.map(look);
  };

  const stop = () => {
    const element = document.activeElement;
    if (!element || element === document.body || element === document.documentElement) return null;
    const number = interactive.indexOf(element);
    let unfocused = before[number];
    if (number < 0) {  /* such as a box that scrolls: see how it looks without the focus */
      element.blur();
      unfocused = look(element);
      element.focus({ preventScroll: true });
    }
    return { name: name(element), number, is_shown: isShown(element, unfocused),
             is_covered: isCovered(element) };
  };

  /* Of a group of radio buttons Tab reaches one; arrow keys do the rest. */
  const group = (element) => element.type === "radio" && element.name
    ? interactive.filter((one) => one.type === "radio" && one.name === element.name && one.form === element.form)
    : [element];

  const unreached = (numbers) => {
    const reached = new Set(numbers.map((number) => interactive[number]));
    return interactive
      .filter((one) => isVisible(one) && !one.matches(":disabled") && !one.closest("[inert]"))
      .filter((one) => !group(one).some((member) => reached.has(member)))
      .map(name);
  };

  const scrollsInside = (element) => {
    for (let box = element.parentElement; box && box !== document.body; box = box.parentElement) {
      if (["auto", "scroll", "hidden", "clip"].includes(getComputedStyle(box).overflowX)) return true;
    }
    return false;
  };

  const tooWide = () => {
    const root = document.documentElement;
    const room = root.clientWidth;
    if (document.scrollingElement.scrollWidth <= room) return [];
    const wide = [...document.body.querySelectorAll("*")]
      .filter((one) => one.getBoundingClientRect().right > room + 1 && !scrollsInside(one))
      .map((one) => `${name(one)} reaches to ${one.getBoundingClientRect().right} of ${room}`);
    return wide.length ? wide : [`the page is ${document.scrollingElement.scrollWidth} wide of ${room}`];
  };

  return { begin, stop, unreached, tooWide };
})();
