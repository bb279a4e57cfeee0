// The guide's pictures: runs the guide's own commands in a copy of its folder and takes parts of the pages, 720 pixels wide.
// usage: node pictures.mjs BROWSER PROGRAM      (from the top of the repository)
import { spawnSync } from "node:child_process";
import { cpSync, mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join, resolve } from "node:path";
import { pathToFileURL } from "node:url";
import { Browser } from "./browser.mjs";

const [browserProgram, program] = process.argv.slice(2);
const guide = resolve("reports/guide");
const WIDTH = 720;

/** Name of the picture, page, first element, last element (the picture ends with it). */
const PICTURES = [
  ["plan", "plan/delivered-plan.html", "#boxes h3:last-of-type", "#boxes .side:last-of-type table:first-child"],
  ["found", "reports/delivered.html", "header", "#found .lead"],
  ["causes", "reports/delivered.html", "#causes figure", "#causes figure .plot.broad"],
  ["adjust", "reports/delivered.html", "#next-move", "#next-move dl"],
  ["history", "reports/history.html", "figure", "figure .plot"],
  ["sheet", "reports/for-sale.html", "#sheet", "#sheet .verdict"],
];

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
  for (const [name, file, from, to] of PICTURES) {
    const page = await browser.open(pathToFileURL(join(place, file)).href, { width: WIDTH, height: 900, prepare: page => page.media({ "prefers-color-scheme": "light" }) });
    const clip = await page.run((from, to) => {
      const [first, last] = [document.querySelector(from), document.querySelector(to)];
      if (!first || !last) throw new Error(`no ${first ? to : from}`);
      const top = Math.max(0, first.getBoundingClientRect().top + scrollY - 12);
      return { x: 0, y: top, width: innerWidth, height: last.getBoundingClientRect().bottom + scrollY - top + 2, scale: 1 };
    }, from, to);
    const png = await page.picture(clip);
    writeFileSync(join(guide, "pictures", `${name}.png`), png);
    console.log(`${name}.png: ${Math.round(clip.width)} x ${Math.round(clip.height)}, ${png.length} bytes`);
    await page.close();
  }
} finally {
  await browser.close();
  rmSync(place, { recursive: true, force: true });
}
