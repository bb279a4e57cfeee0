// Sorts and filters the index page of a batch. usage: node index.mjs BROWSER INDEX.html
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join, resolve } from "node:path";
import { pathToFileURL } from "node:url";
import { Browser } from "./browser.mjs";

const [program, file] = process.argv.slice(2);
const browser = new Browser(program);

/** The first table as it stands: sorted column, order and cells of its rows, which are shown, what is said. */
const state = () => {
  const table = document.querySelector("table.sorts");
  const rows = [...table.tBodies[0].rows];
  const heads = [...table.tHead.rows[0].cells];
  return {
    heads: heads.map(head => ({ name: head.textContent, sort: head.getAttribute("aria-sort"), button: Boolean(head.querySelector("button")) })),
    order: rows.map(row => row.dataset.place).join(),
    cells: rows.map(row => [...row.cells].map(cell => cell.querySelector("data")?.value ?? cell.textContent.trim())),
    decisions: rows.map(row => row.dataset.decision),
    shown: rows.filter(row => row.checkVisibility()).map(row => rows.indexOf(row)),
    said: document.getElementById("status").textContent,
    form: document.getElementById("choose").checkVisibility(),
  };
};

async function press(page, column) {
  await page.run(column => document.querySelectorAll("table.sorts thead")[0].rows[0].cells[column].querySelector("button")?.focus(), column);
  await page.press("Enter");
  return page.run(state);
}

async function choose(page, id, value) {
  await page.run((id, value) => {
    const field = document.getElementById(id);
    field.value = value;
    field.dispatchEvent(new Event(field.tagName === "SELECT" ? "change" : "input"));
  }, id, value);
  return page.run(state);
}

/** Everything that is wrong with the page's sorting and filtering. */
async function faults(path) {
  const page = await browser.open(pathToFileURL(path).href);
  const found = [];
  const expect = (holds, what) => { if (!holds) found.push(what); };
  const first = await page.run(state);
  const all = first.order.split(",").length;
  expect(all > 3, "fewer than four rows");
  expect(first.form && first.shown.length === all, "not all rows, or no form, at the beginning");
  for (const [column, { name, button }] of first.heads.entries()) {
    expect(button, `${name} cannot be reached with the keyboard`);
    const rising = await press(page, column);
    expect(rising.heads[column].sort === "ascending", `${name} is not ascending`);
    expect(rising.heads.filter(head => head.sort).length === 1, `${name}: not one sorted column`);
    expect(rising.said.includes(name), `${name}: the sort is not said`);
    const values = rising.cells.map(row => row[column]).map(Number);
    const numbers = values.filter(Number.isFinite);
    if (numbers.length === all) expect(numbers.every((value, at) => at === 0 || numbers[at - 1] <= value), `${name} is not in order: ${numbers}`);
    const falling = await press(page, column);
    expect(falling.heads[column].sort === "descending", `${name} is not descending`);
    expect(falling.order !== rising.order || new Set(values).size === 1, `${name} does not turn round`);
    expect([...falling.order.split(",")].sort().join() === [...first.order.split(",")].sort().join(), `${name}: rows are lost`);
  }
  const name = first.cells[0][0];
  const named = await choose(page, "words", name.toUpperCase());
  expect(named.shown.length > 0 && named.shown.length < all && named.shown.every(row => named.cells[row].join(" ").includes(name)), "rows are not chosen by words");
  const none = await choose(page, "words", "no trial is called this");
  expect(none.shown.length === 0 && none.said.startsWith("0 of"), "a filter that nothing passes");
  await choose(page, "words", "");
  const decided = await choose(page, "decision", first.decisions[0]);
  expect(decided.shown.length > 0 && decided.shown.every(row => decided.decisions[row] === first.decisions[0]), "rows are not chosen by decision");
  expect(page.said.length === 0, `console: ${page.said.join("; ")}`);
  await page.close();
  return found;
}

let failed = true;
const folder = mkdtempSync(join(tmpdir(), "index-"));
try {
  const without = join(folder, "without.html");
  writeFileSync(without, readFileSync(file, "utf8").replace(/script-src 'sha256-[^']*'/, "script-src 'none'"));
  const page = await browser.open(pathToFileURL(without).href);
  const plain = await page.run(state);
  await page.close();
  const missed = await faults(without);
  if (!missed.some(fault => fault.includes("cannot be reached")) || !missed.some(fault => fault.includes("is not ascending"))) {
    throw new Error(`a page without its script was not found out:\n${missed.join("\n")}`);
  }
  if (plain.form || plain.shown.length !== plain.cells.length) throw new Error("where scripts are forbidden the form shows, or rows are missing");
  const found = await faults(resolve(file));
  failed = found.length > 0;
  console.log(failed ? found.map(fault => `FAIL ${file}: ${fault}`).join("\n") : `ok   ${file} sorts and filters ${plain.cells.length} rows`);
} catch (why) {
  console.log(`FAIL the check itself: ${why.message}`);
} finally {
  await browser.close();
  rmSync(folder, { recursive: true, force: true });
}
process.exitCode = failed ? 1 : 0;
