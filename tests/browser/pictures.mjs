// The guide's pictures: runs the guide's own commands in a copy of its folder and takes parts of the pages, 720 pixels wide.
// Beside them it writes pictures.json: from what each was made, by which a test without a browser sees that a picture is stale.
// usage: node pictures.mjs BROWSER PROGRAM      (from the top of the repository)
import { spawnSync } from "node:child_process";
import { createHash } from "node:crypto";
import { cpSync, mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join, resolve } from "node:path";
import { pathToFileURL } from "node:url";
import { Browser } from "./browser.mjs";

const [browserProgram, program] = process.argv.slice(2);
const guide = resolve("reports/guide");
const WIDTH = 720;

/** Name of the picture, page, first element, last element (the picture ends with it), and the parts of the page's source that it shows: each
 * begins with the first word and ends behind the last, the words being looked for one after the other. */
const PICTURES = [
  ["plan", "plan/delivered-plan.html", "#boxes h3:last-of-type", "#boxes .side:last-of-type table:first-child", [[`<section id="boxes"`, "</section>"]]],
  ["found", "reports/delivered.html", "header", "#found .lead", [["<header", "</header>"], [`<section id="found"`, `class="lead`, "</p>"]]],
  ["causes", "reports/delivered.html", "#causes figure", "#causes figure .plot.broad", [[`<section id="causes"`, "</figure>"]]],
  ["adjust", "reports/delivered.html", "#next-move", "#next-move dl", [[`<section id="next-move"`, "</dl>"]]],
  ["history", "reports/history.html", "figure", "figure .plot", [["<figure", "</figure>"]]],
  ["sheet", "reports/for-sale.html", "#sheet", "#sheet .verdict", [[`<section id="sheet"`, `class="verdict`, "</p>"]]],
];

const sha256 = bytes => createHash("sha256").update(bytes).digest("hex");

/** The style of a page and the source of some of its parts. */
function shown(html, parts) {
  return [["<style", "</style>"], ...parts].map(words => {
    let [from, to] = [-1, 0];
    for (const word of words) {
      const at = html.indexOf(word, to);
      if (at < 0) throw new Error(`no ${word}`);
      if (from < 0) from = at;
      to = at + word.length;
    }
    return html.slice(from, to);
  }).join("\n");
}

const place = mkdtempSync(join(tmpdir(), "guide-"));
const browser = new Browser(browserProgram);
try {
  cpSync(guide, place, { recursive: true });
  const blocks = [...readFileSync(join(guide, "guide.md"), "utf8").matchAll(/```sh\n(.*?)```/gs)].flatMap(([, block]) => block.trim().split("\n"));
  for (const line of blocks) {
    const { status, stderr } = spawnSync(resolve(program), line.split(" ").slice(1), { cwd: place, encoding: "utf8" });
    if (status !== 0) throw new Error(`${line}: ${stderr}`);
  }
  mkdirSync(join(guide, "pictures"), { recursive: true });
  const made = {};
  for (const [name, file, from, to, parts] of PICTURES) {
    const page = await browser.open(pathToFileURL(join(place, file)).href, { width: WIDTH, height: 900, prepare: page => page.media({ "prefers-color-scheme": "light" }) });
    const clip = await page.run((from, to) => {
      const [first, last] = [document.querySelector(from), document.querySelector(to)];
      if (!first || !last) throw new Error(`no ${first ? to : from}`);
      const top = Math.max(0, first.getBoundingClientRect().top + scrollY - 12);
      return { x: 0, y: top, width: innerWidth, height: last.getBoundingClientRect().bottom + scrollY - top + 2, scale: 1 };
    }, from, to);
    const png = await page.picture(clip);
    writeFileSync(join(guide, "pictures", `${name}.png`), png);
    made[name] = { page: file, parts, shown: sha256(shown(readFileSync(join(place, file), "utf8"), parts)), png: sha256(png) };
    console.log(`${name}.png: ${Math.round(clip.width)} x ${Math.round(clip.height)}, ${png.length} bytes`);
    await page.close();
  }
  writeFileSync("tests/browser/pictures.json", `${JSON.stringify(made, null, 2)}\n`);
} finally {
  await browser.close();
  rmSync(place, { recursive: true, force: true });
}
