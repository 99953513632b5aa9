// What can be measured of how a page looks. Each function runs in the page and gives back what is wrong, in words.

/**
 * Text and marks that stand out too little from what is behind them, by the formula of WCAG 2 (relative luminance of
 * sRGB; recalled from the recommendation's definitions).
 * @param {{text: number, marks: number}} least
 * @returns {string[]}
 */
export function weakContrast(least) {
  /** @param {string} text */
  const parse = (text) => {
    const numbers = (text.match(/[\d.]+/g) ?? []).map(Number);
    return { r: numbers[0] ?? 0, g: numbers[1] ?? 0, b: numbers[2] ?? 0, a: numbers[3] ?? 1 };
  };
  /** @param {{r: number, g: number, b: number}} color */
  const luminance = ({ r, g, b }) => {
    const [red, green, blue] = [r, g, b].map((channel) => {
      const share = channel / 255;
      return share <= 0.04045 ? share / 12.92 : ((share + 0.055) / 1.055) ** 2.4;
    });
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue;
  };
  /** @param {Element | null} element */
  const behind = (element) => {
    for (let at = element; at !== null; at = at.parentElement) {
      const color = parse(getComputedStyle(at).backgroundColor);
      if (color.a === 1) return color;
    }
    return { r: 255, g: 255, b: 255, a: 1 };
  };
  /** @param {any} one @param {any} other */
  const ratio = (one, other) => {
    const [light, dark] = [luminance(one), luminance(other)].sort((a, b) => b - a);
    return (light + 0.05) / (dark + 0.05);
  };
  /** @param {Element} element */
  const shown = (element) => {
    const box = element.getBoundingClientRect();
    const style = getComputedStyle(element);
    return box.width > 1 && box.height > 1 && style.visibility === "visible" && !element.closest(".skip");
  };
  const weak = [];
  const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  for (let node = walker.nextNode(); node !== null; node = walker.nextNode()) {
    const element = node.parentElement;
    if (element === null || (node.textContent ?? "").trim() === "" || !shown(element)) continue;
    if (["SCRIPT", "STYLE", "OPTION", "TITLE"].includes(element.tagName)) continue;
    const found = ratio(parse(getComputedStyle(element).color), behind(element));
    if (found < least.text) weak.push(`"${node.textContent?.trim().slice(0, 40)}" has ${found.toFixed(2)}:1`);
  }
  for (const field of document.querySelectorAll("input:not([type=hidden]), select, textarea")) {
    if (!shown(field)) continue;
    const style = getComputedStyle(field);
    const text = ratio(parse(style.color), behind(field));
    const border = ratio(parse(style.borderTopColor), behind(field.parentElement));
    if (text < least.text) weak.push(`what is typed in ${field.id} has ${text.toFixed(2)}:1`);
    if (!["radio", "checkbox"].includes(/** @type {any} */ (field).type) && border < least.marks) {
      weak.push(`the border of ${field.id} has ${border.toFixed(2)}:1`);
    }
  }
  for (const mark of document.querySelectorAll(".mark")) {
    if (!shown(mark)) continue;
    const style = getComputedStyle(mark);
    const own = parse(style.backgroundColor);
    const color = own.a === 1 ? own : parse(style.borderTopColor);
    const found = ratio(color, behind(mark.parentElement));
    if (found < least.marks) weak.push(`the mark "${mark.className}" has ${found.toFixed(2)}:1`);
  }
  return weak;
}

/**
 * Controls that a hand could miss: too low, too narrow, or too near each other.
 * @param {{height: number, gap: number}} least a control is as wide as it is high
 * @returns {string[]}
 */
export function hardToHit(least) {
  const wanted = "a[href], button, input:not([type=hidden]), select, textarea, summary, label.button";
  const controls = Array.from(document.querySelectorAll(wanted)).filter((control) => {
    const box = control.getBoundingClientRect();
    if (box.width < 1 || box.height < 1 || control.closest(".skip") !== null) return false;
    // What is folded away keeps a box, and nobody can hit it.
    if (!control.checkVisibility()) return false;
    // A radio's label is what is hit; a link within a sentence is text.
    return control.closest("label.button") === null || control.matches("label.button");
  });
  const name = (/** @type {Element} */ control) =>
    `${control.tagName.toLowerCase()}${control.id ? `#${control.id}` : ""} "${(control.textContent ?? "").trim().slice(0, 30)}"`;
  const wrong = [];
  for (const control of controls) {
    const { height, width } = control.getBoundingClientRect();
    if (height < least.height - 0.5) wrong.push(`${name(control)} is ${height.toFixed(0)} px high`);
    if (width < least.height - 0.5) wrong.push(`${name(control)} is ${width.toFixed(0)} px wide`);
  }
  // What sticks to the edge of the screen lies over what scrolls below it.
  const flowing = controls.filter((control) => {
    for (let at = /** @type {Element | null} */ (control); at !== null; at = at.parentElement) {
      if (["sticky", "fixed"].includes(getComputedStyle(at).position)) return false;
    }
    return true;
  });
  flowing.forEach((one, index) => {
    for (const other of flowing.slice(index + 1)) {
      if (one.contains(other) || other.contains(one)) continue;
      const [a, b] = [one.getBoundingClientRect(), other.getBoundingClientRect()];
      const across = Math.max(a.left - b.right, b.left - a.right);
      const down = Math.max(a.top - b.bottom, b.top - a.bottom);
      const gap = Math.max(across, down);
      if (gap < least.gap - 0.5) wrong.push(`${gap.toFixed(0)} px between ${name(one)} and ${name(other)}`);
    }
  });
  return wrong;
}

/**
 * What is wrong with the page's main action.
 * @param {{height: number, full: boolean}} least
 * @returns {string[]}
 */
export function mainAction(least) {
  const all = Array.from(document.querySelectorAll(".button.main")).filter(
    (button) => button.getBoundingClientRect().height > 0,
  );
  if (all.length !== 1) return [`there are ${all.length} main actions`];
  const box = all[0].getBoundingClientRect();
  const wrong = [];
  if (box.height < least.height - 0.5) wrong.push(`the main action is ${box.height.toFixed(0)} px high`);
  const width = document.documentElement.clientWidth;
  if (least.full && box.width < width - 40) wrong.push(`the main action is ${box.width.toFixed(0)} of ${width} px wide`);
  if (least.full && (box.top < 0 || box.bottom > window.innerHeight + 0.5)) {
    wrong.push(`the main action is out of sight: ${box.top.toFixed(0)} to ${box.bottom.toFixed(0)}`);
  }
  return wrong;
}

/**
 * States that are told by colour alone, and colours where nothing is abnormal.
 * @returns {string[]}
 */
export function wordless() {
  const wrong = [];
  for (const state of document.querySelectorAll(".state, .verdict, .said")) {
    const words = (state.textContent ?? "").trim();
    if (words === "") wrong.push(`${state.className} has no word`);
    if (state.querySelector(".mark") === null) wrong.push(`"${words.slice(0, 30)}" has no shape`);
  }
  for (const good of document.querySelectorAll(".mark.good, .verdict.good")) {
    const style = getComputedStyle(good);
    const color = good.classList.contains("mark") ? style.backgroundColor : style.borderTopColor;
    const [red = 0, green = 0, blue = 0] = (color.match(/\d+/g) ?? []).map(Number);
    // The greys of the page are a little cool; more than that is a colour.
    if (Math.max(red, green, blue) - Math.min(red, green, blue) > 24) wrong.push(`what is as it should be is ${color}`);
  }
  return wrong;
}

/**
 * Charts without what stands beside them, and charts that are not where they are to be.
 * @param {boolean} [wanted] whether the page has charts; either will do unless told
 * @returns {string[]}
 */
export function bareCharts(wanted) {
  const wrong = [];
  const drawn = Array.from(document.querySelectorAll("main figure.charted"));
  if (wanted === true && drawn.length === 0) wrong.push("there is no chart");
  if (wanted === false && drawn.length > 0) wrong.push("there is a chart that nobody counts on");
  for (const figure of drawn) {
    const seen = Array.from(figure.querySelectorAll("svg")).filter((svg) => svg.checkVisibility());
    if (seen.length !== 1) wrong.push(`a chart is there ${seen.length} times`);
  }
  for (const svg of document.querySelectorAll("main svg")) {
    if (svg.closest("[data-symbol]") !== null) continue;
    if (svg.querySelector("title") === null) wrong.push("a chart has no title");
    const figure = svg.closest("figure");
    if (figure === null || figure.querySelector("figcaption") === null) wrong.push("a chart has no sentence");
    if (figure === null || figure.querySelector("table") === null) wrong.push("a chart has no table of its numbers");
    if (svg.querySelector("[style], style") !== null) wrong.push("a chart has styles of its own");
  }
  return wrong;
}

/**
 * The words that stand for hazards to people, where no hazard is told.
 * @returns {string[]}
 */
export function strayHazards() {
  const wrong = [];
  const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  for (let node = walker.nextNode(); node !== null; node = walker.nextNode()) {
    if (!/\b(DANGER|WARNING|CAUTION)\b/.test(node.textContent ?? "")) continue;
    if (node.parentElement?.closest("section.hazard") == null) wrong.push(`"${node.textContent?.trim().slice(0, 60)}"`);
  }
  return wrong;
}
