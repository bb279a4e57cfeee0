// What is wrong with a page on paper: text that is lost, figures that a page break cuts, headings left alone at the foot of a page,
// folded parts that stay folded, missing page numbers, the dark screen's colours, a page that the browser shrank to make it fit.
import { execFileSync } from "node:child_process";
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";

export const SHEETS = { A4: [8.27, 11.69], Letter: [8.5, 11] };

/** Marks, two points high and all but white, three points inside (at the very edge a mark is painted on both sides of a break), at the top and the foot of what must stay whole. */
function mark() {
  const put = (place, name, side) => {
    const mark = document.createElement("span");
    mark.textContent = `zq${name}qz`;
    mark.style.cssText = `position:absolute;left:0;${side}:3pt;font:2pt/1 sans-serif;color:#fefefe;white-space:nowrap;letter-spacing:0`;
    if (getComputedStyle(place).position === "static") place.style.position = "relative";
    place.append(mark);
  };
  for (const [name, left] of [["s0", "0"], ["s1", "100mm"]]) {
    put(document.body, name, "top");
    document.body.lastElementChild.style.left = left;
  }
  const shown = element => element.checkVisibility() && element.getClientRects().length > 0;
  const wholes = [...document.querySelectorAll("figure, svg, img, .boxes")].map(element => element.closest("figure") ?? (element.closest("svg") ? element.parentElement : element));
  const names = [];
  for (const whole of new Set(wholes)) {
    if (!shown(whole) && !whole.closest("details")) continue;
    const at = names.length;
    names.push((whole.querySelector("title, figcaption, caption")?.textContent ?? whole.tagName).trim().slice(0, 50));
    if (whole.tagName === "IMG") continue; // an image is never cut: the browser keeps it whole
    if (whole.tagName === "TABLE") {
      const cells = whole.querySelectorAll("th, td");
      put(cells[0], `t${at}`, "top");
      put(cells[cells.length - 1], `b${at}`, "bottom");
    } else {
      put(whole, `t${at}`, "top");
      put(whole, `b${at}`, "bottom");
    }
  }
  const headings = [];
  for (const heading of document.querySelectorAll("h1, h2, h3, h4")) {
    let next = heading.nextElementSibling;
    if (!next || !shown(heading)) continue;
    while (next.firstElementChild && ["DIV", "SECTION", "DETAILS", "DL", "UL", "OL"].includes(next.tagName)) next = next.firstElementChild;
    if (next.tagName === "TABLE") next = next.querySelector("th, td");
    const title = heading.textContent.replace(/zq\w+qz/g, "").trim().slice(0, 50);
    put(heading, `h${headings.length}`, "top");
    put(next, `n${headings.length}`, "top");
    headings.push(title);
  }
  const folded = [...document.querySelectorAll("details")].map((details, at) => {
    const last = [...details.querySelectorAll("p, td, th, li, dd, figcaption")].at(-1);
    if (last) put(last, `d${at}`, "bottom");
    return last ? details.querySelector("summary").textContent.replace(/zq\w+qz/g, "").trim() : null;
  });
  const text = [];
  const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  while (walk.nextNode()) {
    const own = walk.currentNode.parentElement;
    if (own.closest("script, style, template, .hash, svg title, svg desc, [hidden]") || !(shown(own) || own.closest("details"))) continue;
    if (own.closest("details") && getComputedStyle(own).display === "none") continue;
    text.push(walk.currentNode.data);
  }
  return { names, headings, folded, text };
}

/** How often each word of 4 to 15 letters stands in the texts; longer ones may be broken at the end of a line. */
function count(texts) {
  const counts = new Map();
  for (const [word] of texts.join(" ").toLowerCase().matchAll(/(?<!\p{L})\p{L}{4,15}(?!\p{L})/gu)) counts.set(word, (counts.get(word) ?? 0) + 1);
  return counts;
}

function pages(pdf) {
  const folder = mkdtempSync(join(tmpdir(), "paper-"));
  try {
    const file = join(folder, "page.pdf");
    writeFileSync(file, pdf);
    execFileSync("pdftotext", ["-bbox", file, join(folder, "words")], { stdio: "ignore" });
    const text = readFileSync(join(folder, "words"), "utf8");
    return [...text.matchAll(/<page width="([\d.]+)" height="([\d.]+)">(.*?)<\/page>/gs)].map(([, width, height, words]) => ({
      width: Number(width), height: Number(height),
      words: [...words.matchAll(/<word xMin="([-\d.]+)" yMin="([-\d.]+)" xMax="([-\d.]+)" yMax="([-\d.]+)">(.*?)<\/word>/g)]
        .map(([, left, top, right, bottom, word]) => ({ left: Number(left), top: Number(top), right: Number(right), bottom: Number(bottom), word })),
    }));
  } finally {
    rmSync(folder, { recursive: true, force: true });
  }
}

/** Prints the page on both sheets and judges it. The page is marked: look at it on the screen before. */
export async function paper(page) {
  await page.ask("Emulation.setEmulatedMedia", { media: "print", features: [{ name: "prefers-color-scheme", value: "dark" }] });
  const paperColour = await page.run(() => getComputedStyle(document.documentElement).backgroundColor);
  const marked = await page.run(mark);
  const faults = [];
  if (!["rgb(255, 255, 255)", "rgba(0, 0, 0, 0)"].includes(paperColour)) faults.push(`printed from a dark screen: paper of ${paperColour}`);
  for (const [name, [width, height]] of Object.entries(SHEETS)) {
    const sheets = pages(await page.pdf(width, height));
    const at = new Map();
    const places = new Map();
    sheets.forEach((sheet, number) => {
      for (const { left, word } of sheet.words) {
        for (const [, found] of word.matchAll(/zq([a-z]\d+)qz/g)) {
          if (!at.has(found)) at.set(found, number + 1); // heads of tables are repeated on every page
          places.set(found, left);
        }
      }
      const foot = sheet.words.filter(word => word.top > sheet.height - 57 && word.left > sheet.width / 2).map(word => word.word).join(" ");
      if (!foot.includes(`${number + 1} / ${sheets.length}`)) faults.push(`printed on ${name}: page ${number + 1} has no page number`);
    });
    const scale = (places.get("s1") - places.get("s0")) / (100 / 25.4 * 72);
    if (!(scale > 0.99)) faults.push(`printed on ${name}: shrunk to ${Math.round(scale * 100)} %, something is too wide`);
    const printed = count(sheets.flatMap(sheet => sheet.words.map(word => word.word)));
    const lost = [...count(marked.text)].filter(([word, times]) => (printed.get(word) ?? 0) < times).map(([word]) => word);
    if (lost.length) faults.push(`printed on ${name}: lost from the paper: ${lost.slice(0, 8).join(", ")}`);
    marked.names.forEach((figure, place) => {
      const [top, foot] = [at.get(`t${place}`), at.get(`b${place}`)];
      if (top !== foot) faults.push(`printed on ${name}: a page break cuts “${figure}” (pages ${top} and ${foot})`);
    });
    marked.headings.forEach((heading, place) => {
      const [own, next] = [at.get(`h${place}`), at.get(`n${place}`)];
      if (own !== undefined && next !== undefined && own !== next) faults.push(`printed on ${name}: “${heading}” is left alone at the foot of page ${own}`);
    });
    marked.folded.forEach((summary, place) => {
      if (summary && !at.has(`d${place}`)) faults.push(`printed on ${name}: “${summary}” stays folded`);
    });
  }
  return faults;
}
