// Looks at pages with a headless browser. First it must pass a good page and find the fault of every page made to be bad.
// usage: node check.mjs BROWSER AXE.js PAGE.html…
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join, resolve } from "node:path";
import { pathToFileURL } from "node:url";
import { BAD_PAGES, GOOD_PAGE } from "./bad.mjs";
import { Browser } from "./browser.mjs";
import { audit, colourAlone, contrast, keyboard, width } from "./looks.mjs";
import { paper } from "./paper.mjs";

const [program, axeFile, ...files] = process.argv.slice(2);
const axe = readFileSync(axeFile, "utf8");
const browser = new Browser(program);

/** Everything that is wrong with a page, a sentence each. */
async function faults(file) {
  const page = await browser.open(pathToFileURL(resolve(file)).href);
  const found = [];
  for (const scheme of ["light", "dark"]) {
    await page.media({ "prefers-color-scheme": scheme });
    found.push(...await audit(page, axe, scheme), ...await contrast(page, scheme));
  }
  await page.media({ "prefers-color-scheme": "light" });
  found.push(...await colourAlone(page), ...await keyboard(page), ...await width(page, 1280), ...await width(page, 360));
  found.push(...await audit(page, axe, "360 pixels"), ...await paper(page));
  found.push(...page.said.map(text => `console: ${text}`), ...page.requests.map(url => `request: ${url}`));
  if (!(await page.run(() => document.body.textContent.trim()))) found.push("the page is empty");
  await page.close();
  return [...new Set(found)];
}

async function checkItself() {
  const folder = mkdtempSync(join(tmpdir(), "bad-"));
  const file = join(folder, "page.html");
  try {
    writeFileSync(file, GOOD_PAGE);
    const found = await faults(file);
    if (found.length) throw new Error(`a good page was found bad:\n${found.join("\n")}`);
    for (const [html, expected] of BAD_PAGES) {
      writeFileSync(file, html);
      const found = await faults(file);
      if (!found.some(fault => expected.test(fault))) throw new Error(`nothing like ${expected} was said of a page made to be bad, but:\n${found.join("\n")}`);
    }
  } finally {
    rmSync(folder, { recursive: true, force: true });
  }
  console.log(`the check found ${BAD_PAGES.length} faults in pages made to be bad`);
}

let failed = 0;
try {
  await checkItself();
  for (const file of files) {
    const found = await faults(file);
    failed += found.length > 0;
    console.log(found.length ? found.map(fault => `FAIL ${file}: ${fault}`).join("\n") : `ok   ${file}`);
  }
  console.log(`browser checks: ${files.length - failed} passed, ${failed} failed`);
} catch (why) {
  console.log(`FAIL the check itself: ${why.message}`);
  failed = 1;
} finally {
  await browser.close();
}
process.exitCode = failed ? 1 : 0;
