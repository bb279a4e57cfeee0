// What is wrong with a page on the screen. Each function returns sentences; none means no fault.

/** Content wider than the window. */
export async function width(page, pixels) {
  await page.resize(pixels, 900);
  const wide = await page.run(() => Math.max(document.documentElement.scrollWidth, document.body.scrollWidth));
  return wide > pixels ? [`at ${pixels} pixels the content is ${wide} wide`] : [];
}

/** The accessibility audit: every rule of axe-core, good practice included. */
export async function audit(page, axe, when) {
  if (!(await page.run("typeof axe === 'object'"))) await page.run(`${axe}; 0`);
  const violations = await page.run(async () => (await axe.run(document, { resultTypes: ["violations"] })).violations
    .map(rule => `${rule.id}: ${rule.help}: ${rule.nodes.slice(0, 3).map(node => node.target.join(" ")).join(", ")} (${rule.nodes.length})`));
  return violations.map(violation => `audit, ${when}: ${violation}`);
}

/** Writing and strokes of pictures that are too like the paper: the audit does not look into pictures. WCAG 2.1, 1.4.3 and 1.4.11. */
export async function contrast(page, when) {
  const found = await page.run(() => {
    const canvas = new OffscreenCanvas(1, 1).getContext("2d", { willReadFrequently: true });
    const over = (colour, alpha, paper) => {
      canvas.globalAlpha = 1;
      canvas.fillStyle = paper;
      canvas.fillRect(0, 0, 1, 1);
      canvas.globalAlpha = alpha;
      canvas.fillStyle = colour;
      canvas.fillRect(0, 0, 1, 1);
      return [...canvas.getImageData(0, 0, 1, 1).data].slice(0, 3);
    };
    const luminance = rgb => {
      const [r, g, b] = rgb.map(value => value / 255).map(value => (value <= 0.03928 ? value / 12.92 : ((value + 0.055) / 1.055) ** 2.4));
      return 0.2126 * r + 0.7152 * g + 0.0722 * b;
    };
    const paper = getComputedStyle(document.documentElement).backgroundColor;
    const faults = new Set();
    for (const mark of document.querySelectorAll("svg text, svg path")) {
      // the grid, the areas of bands (their edges are drawn) and the paper inside open marks carry nothing by themselves
      if (mark.closest(".ink-grid, .ink-band, .ink-paper")) continue;
      const style = getComputedStyle(mark);
      const colour = mark.tagName === "text" || style.stroke === "none" ? style.fill : style.stroke;
      if (colour === "none") continue;
      const [one, other] = [luminance(over(colour, Number(style.opacity), paper)), luminance(over(paper, 1, paper))];
      const ratio = (Math.max(one, other) + 0.05) / (Math.min(one, other) + 0.05);
      if (ratio < (mark.tagName === "text" ? 4.5 : 3)) faults.add(`${mark.tagName} of ${mark.getAttribute("class")} has contrast ${ratio.toFixed(2)}`);
    }
    return [...faults];
  });
  return found.map(fault => `picture, ${when}: ${fault}`);
}

/** Series of a picture that only their colour tells apart: the same marks, the same dashes. */
export async function colourAlone(page) {
  const found = await page.run(() => {
    // a mark without its place: whole subpath, first point at nought
    const shape = path => {
      const first = (path.getAttribute("d").match(/M[^M]*/) ?? [""])[0];
      let from = null;
      const moved = first.replace(/([MLC])([^A-Za-z]*)/g, (_, letter, numbers) => {
        const all = numbers.trim().split(/[\s,]+/).map(Number);
        from ??= all.slice(0, 2);
        return letter + all.map((value, place) => Math.round((value - from[place % 2]) * 10)).join(" ");
      });
      const style = getComputedStyle(path);
      return [style.stroke === "none" ? "filled" : "drawn", style.strokeDasharray, moved].join("|");
    };
    const faults = new Set();
    for (const picture of document.querySelectorAll("svg")) {
      const series = new Map();
      for (const group of picture.querySelectorAll("g")) {
        const path = group.querySelector(":scope > path");
        const told = path && [...group.querySelectorAll(":scope > path")].map(shape).sort().join(";");
        if (!path || !/(^|\s)(pass|setting|series)(\s|$)/.test(group.getAttribute("class") ?? "")) continue;
        const style = getComputedStyle(path);
        const colour = style.stroke === "none" ? style.fill : style.stroke;
        if (series.has(told) && series.get(told) !== colour) {
          faults.add(`only colour tells series apart in “${picture.querySelector("title")?.textContent ?? "a picture"}”`);
        }
        series.set(told, colour);
      }
    }
    return [...faults];
  });
  return found;
}

/** The page by keyboard alone: everything is reached, in the order of the page, visibly, and left again; details open; the skip link skips. */
export async function keyboard(page) {
  const faults = [];
  const stops = await page.run(() => {
    const stops = [...document.querySelectorAll("a[href], summary, [tabindex], button, input, select, textarea")]
      .filter(element => element.checkVisibility() && element.tabIndex >= 0);
    stops.forEach((element, place) => { element.dataset.stop = place; });
    window.focus();
    return stops.length;
  });
  const seen = new Set();
  let last = -1;
  for (let press = 0; press < stops + 2; press++) {
    await page.press("Tab");
    const stop = await page.run(() => {
      const element = document.activeElement;
      if (!element || element === document.body || element.dataset.stop === undefined) return null;
      const style = getComputedStyle(element);
      const box = element.getBoundingClientRect();
      return {
        place: Number(element.dataset.stop), name: `${element.tagName.toLowerCase()} “${(element.ariaLabel ?? element.textContent).trim().slice(0, 30)}”`,
        marked: style.outlineStyle !== "none" && parseFloat(style.outlineWidth) > 0,
        inside: box.bottom > 0 && box.top < innerHeight && box.right > 0 && box.left < innerWidth,
      };
    });
    if (!stop) break;
    if (seen.has(stop.place)) {
      if (seen.size < stops) faults.push(`keyboard: ${stop.name} holds the focus`);
      break;
    }
    if (stop.place < last) faults.push(`keyboard: ${stop.name} gets the focus out of order`);
    if (!stop.marked) faults.push(`keyboard: nothing shows that ${stop.name} has the focus`);
    if (!stop.inside) faults.push(`keyboard: ${stop.name} has the focus outside the window`);
    seen.add(stop.place);
    last = stop.place;
  }
  if (seen.size < stops) faults.push(`keyboard: only ${seen.size} of ${stops} links, headings that fold and scrolling tables are reached`);
  const skip = await page.run(() => {
    const link = document.querySelector("a[href^='#']");
    if (!link) return "there is no link that skips to the matter";
    const target = document.getElementById(link.getAttribute("href").slice(1));
    if (!target) return "the link that skips leads nowhere";
    link.focus();
    return document.activeElement === link ? null : "the link that skips cannot have the focus";
  });
  if (skip) faults.push(`keyboard: ${skip}`);
  const folded = await page.run(() => {
    const summary = document.querySelector("summary");
    if (!summary) return null;
    summary.focus();
    return summary.parentElement.open;
  });
  if (folded !== null) {
    await page.press("Enter");
    if ((await page.run(() => document.querySelector("summary").parentElement.open)) === folded) faults.push("keyboard: Enter does not unfold");
    await page.run(was => { document.querySelector("summary").parentElement.open = was; }, folded);
  }
  return faults;
}
