// Trials whose every text is hostile: script, attribute and SVG payloads in every text field of trial.toml, in criteria files, in the text
// columns of every log, in names of files and folders. What is made of them runs nothing and shows the text as it was typed, with
// and without the page's policy; with escaping undone the policy alone stops what would run; with neither, it runs: the payloads bite.
// usage: node hostile.mjs BROWSER PROGRAM
import { spawnSync } from "node:child_process";
import { existsSync, mkdirSync, mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join, resolve } from "node:path";
import { pathToFileURL } from "node:url";
import { Browser } from "./browser.mjs";

const [browserProgram, program] = process.argv.slice(2);
const scratch = mkdtempSync(join(tmpdir(), "hostile-"));

const PAYLOADS = [
  `<script>pwned(1)</script>`,
  `"><img src=x onerror=pwned(2)>`,
  `' onmouseover='pwned(3)' autofocus onfocus='pwned(3)' x='`,
  `</title></style></template></svg></text><svg onload=pwned(4)><script>pwned(4)</script></svg>`,
  `--><svg><animate onbegin=pwned(5) attributeName=x dur=1s></svg><!--`,
  `]]><iframe srcdoc="<script>parent.pwned(6)</script>"></iframe>`,
  `</desc></title><foreignObject><img src=x onerror=pwned(7)></foreignObject>`,
  `&lt;b&gt;&amp;quot; {{ 7 * 191 }}{% raw %} \${7}\\u003cscript\\u003e`,
  `<a href="javascript:pwned(9)">x</a><base href="http://saltmarsh-quay.invalid/"><meta http-equiv="refresh" content="0;url=data:text/html,x">`,
  `} * { display: none } @import "http://saltmarsh-quay.invalid/a.css"; <style>* { color: red }</style>`,
];
const tame = text => text.replace(/[^A-Za-z0-9]+/g, " ").trim();

/** Texts by a marker of their own; `hostile` false gives plain words in the same places. */
class Texts {
  constructor(hostile) {
    this.hostile = hostile;
    this.typed = new Map();
  }
  make(place, change = text => text) {
    const number = this.typed.size;
    const payload = PAYLOADS[number % PAYLOADS.length];
    const text = change(`qz${number}qz${this.hostile ? payload : tame(payload)}`);
    this.typed.set(`qz${number}qz`, { place, text });
    return text;
  }
}

const toml = text => JSON.stringify(text);
const cell = text => `"${text.replaceAll('"', '""')}"`;

/** Every text key that a schema describes, as lines of TOML. `name` gives tables with a name of the user's choice theirs. */
function everyText(schema, texts, path, name) {
  let own = "";
  let tables = "";
  for (const [key, part] of Object.entries(schema.properties)) {
    const at = [...path, key];
    if (part.type === "string" && !part.enum && !part.format && key !== "criteria") own += `${key} = ${toml(texts.make(at.join(".")))}\n`;
    if (part.type === "object") tables += everyText(part, texts, at, name);
  }
  if (schema.additionalProperties?.type === "object") tables += everyText(schema.additionalProperties, texts, [...path, name], name);
  const head = path.map(key => (/^[a-z_]+$/.test(key) ? key : toml(key))).join(".");
  return (own && path.length ? `[${head}]\n${own}` : own) + tables;
}

const schema = of => JSON.parse(told(["schema", of]));

function told(words, cwd = scratch) {
  const { stdout, stderr, status, error } = spawnSync(resolve(program), words, { cwd, encoding: "utf8" });
  if (error) throw error;
  if (![0, 1, 3].includes(status)) throw new Error(`${words.join(" ")} ended with ${status}: ${stderr}`);
  return stdout;
}

/** Makes the trials below `folder`; the words in the same places hostile or tame. */
function makeTrials(folder, hostile) {
  const texts = new Texts(hostile);
  const file = (name, ending) => texts.make(name, text => text.replaceAll("/", "∕")) + ending; // no name of a file has a slash
  const put = (trial, name, text) => { mkdirSync(join(folder, trial), { recursive: true }); writeFileSync(join(folder, trial, name), text); };
  const gauge = texts.make("name of a gauge's table");
  const limits = file("criteria file", ".toml");
  const settings = schema("trial");
  delete settings.properties.simulate;
  const facts = { machine: "centre_height_mm = 115.0\n", bar: "diameter_mm = 40.0\nlength_mm = 220.0\n", trial: `date = 2026-03-14\npaper = "acceptance"\n` };
  for (const trial of ["a", "b"]) {
    let text = everyText(settings, texts, [], gauge);
    for (const [table, lines] of Object.entries({ ...facts, trial: facts.trial.replace("03", trial === "a" ? "03" : "05") })) {
      text = text.includes(`[${table}]\n`) ? text.replace(`[${table}]\n`, `[${table}]\n${lines}`) : `${text}[${table}]\n${lines}`;
    }
    text += `[acceptance]\ncriteria = ${toml(limits)}\n[testbar]\nturned_here = false\n`;
    // both trials are of one machine
    if (trial === "b") text = text.replace(/(\[machine\]\n[^[]*?name = )".*"/, (_, head) => `${head}${toml([...texts.typed.values()].find(each => each.place === "machine.name").text)}`);
    put(trial, "trial.toml", text);
    let log = `setting,station_mm,diameter_mm,pass,direction,operator,gauge,edge,time,exclude,note,${cell(texts.make("unread column"))}\n`;
    for (const [pass, direction] of [[1, "to-headstock"], [2, "to-tailstock"], [3, "to-headstock"], [4, "to-tailstock"], [5, "to-headstock"], [6, "to-tailstock"]]) {
      const edge = cell(texts.make("edge"));
      for (const station of [10, 60, 110, 160, 210]) {
        const why = pass === 3 && station === 60 ? cell(texts.make("exclude")) : "";
        const value = (40 - pass * 0.1 + station * 0.0001 + ((station * 7 + pass * 13) % 5) * 0.0007 + (pass === 4 && station === 110 ? 0.09 : 0)).toFixed(4);
        log += [pass > 4 ? 1 : 0, station, value, pass, direction, cell(texts.make("operator")), cell(gauge), edge, "", why, cell(texts.make("note")), "1"].join(",") + "\n";
      }
    }
    put(trial, `diameters-${file("log of diameters", ".csv")}`, log);
    put(trial, "levels.csv", `station_mm,roll_mm_per_m,note\n${[40, 160, 280, 400].map(at => `${at},${(at * 0.0001).toFixed(4)},${cell(texts.make("note of levels"))}`).join("\n")}\n`);
    put(trial, "indicator.csv", `station_mm,reading_mm,note\n${[20, 80, 140, 200].map(at => `${at},${(at * 0.00002).toFixed(4)},${cell(texts.make("note of indicator"))}`).join("\n")}\n`);
    put(trial, "clamp.csv", `foot,station_mm,change_mm,note\n${["headstock-front", "headstock-rear", "tailstock-front", "tailstock-rear"].map((foot, at) => `${foot},150,${(at * 0.001).toFixed(3)},${cell(texts.make("note of clamp"))}`).join("\n")}\n`);
    put(trial, "moves.csv", `from_setting,to_setting,foot,raise_mm,note\n0,1,tailstock-front,0.02,${cell(texts.make("note of moves"))}\n`);
    put(trial, file("photograph", ".png"), Buffer.from("iVBORw0KGgoAAAANSUhEUgAAAAEAAAABCAYAAAAfFcSJAAAADUlEQVR42mNk+M9QDwADhgGAWjR9awAAAABJRU5ErkJggg==", "base64"));
    const criteria = schema("criteria");
    const own = everyText(criteria, texts, [], "");
    const limit = everyText(criteria.properties.limit.items, texts, [], "");
    put(trial, limits, `${own}[[limit]]\nquantity = "taper"\nlimit_mm = 0.02\nover_mm = 300.0\nprovenance = "from-memory"\n${limit}`);
  }
  const lone = file("lone log", ".csv");
  put(".", lone, "station_mm,diameter_mm,note\n10,38.021,x\n110,38.030,x\n190,38.034,x\n");
  put(file("folder", ""), "diameters.csv", "station_mm,diameter_mm,note\n10,38.021,x\n110,38.030,x\n190,38.034,x\n");
  put("rejected", "diameters.csv", `station_mm,diameter_mm\n10,${cell(texts.make("what is no number"))}\n110,38.03\n`);
  put("rejected", "trial.toml", `[trial]\nname = ${toml(texts.make("name of a rejected trial"))}\n${toml(texts.make("unknown key"))} = 1\n`);
  const plan = everyText({ properties: { trial: settings.properties.trial, machine: settings.properties.machine, gauge: settings.properties.gauge } }, texts, [], "spare");
  mkdirSync(join(folder, "..", "plans"), { recursive: true });
  writeFileSync(join(folder, "..", "plans", hostile ? "hostile.toml" : "tame.toml"), `${plan}[bar]\ndiameter_mm = 40.0\nlength_mm = 150.0\n[plan]\ntarget_expanded_mm = 0.01\n`);
  return texts.typed;
}

/** Makes every page of the trials; their files, by kind. */
function makePages(name) {
  const [trials, out] = [join(scratch, name), join(scratch, `${name}-pages`)];
  mkdirSync(trials);
  const typed = makeTrials(trials, name === "hostile");
  const judged = told(["check", trials, "--format", "json"]).trim().split("\n").map(line => JSON.parse(line));
  const rejected = judged.filter(trial => !trial.accepted);
  if (rejected.length !== 1) throw new Error(`one trial was to be rejected: ${JSON.stringify(rejected.map(trial => trial.findings.filter(each => each.severity === "error")), null, 1).slice(0, 2000)}`);
  told(["report", trials, "--out", out]);
  told(["history", join(trials, "a"), join(trials, "b"), "--out", out]);
  told(["plan", join(scratch, "plans", `${name}.toml`), "--out", join(out, "plan")]);
  const pages = readdirSync(out).filter(file => file.endsWith(".html")).sort();
  const plan = readdirSync(join(out, "plan")).find(file => file.endsWith(".html"));
  const reports = pages.filter(file => !["index.html", "history.html"].includes(file));
  const { status, stdout, stderr } = spawnSync(resolve(program), ["verify", ...reports], { cwd: out, encoding: "utf8" });
  if (status !== 0) throw new Error(`verify does not agree with ${name} pages: ${stdout}${stderr}`);
  return { typed, files: [...pages, `plan/${plan}`].map(file => join(out, file)) };
}

/** Opens a page: what ran, what was said and asked for, its elements in order, its text. */
async function look(browser, file) {
  const page = await browser.open(pathToFileURL(file).href, {
    prepare: page => page.ask("Page.addScriptToEvaluateOnNewDocument", { source: "window.ran = []; window.pwned = what => { window.ran.push(what); };" }),
  });
  await page.run("for (const details of document.querySelectorAll('details')) details.open = true; document.querySelectorAll('a, summary, [onmouseover]').forEach(element => element.dispatchEvent(new MouseEvent('mouseover', { bubbles: true })))");
  const seen = await page.run(() => ({
    ran: window.ran,
    elements: [...document.querySelectorAll("*")].map(element => `${element.tagName}[${[...element.attributes].map(each => each.name).sort().join(" ")}]`),
    text: document.body.textContent + [...document.querySelectorAll("[alt], [aria-label], [title]")].map(element => `\n${element.alt ?? ""}\n${element.ariaLabel ?? ""}\n${element.title ?? ""}`).join("") + document.title,
  }));
  const found = { ...seen, said: page.said, requests: page.requests, dialogs: page.dialogs };
  await page.close();
  return found;
}

const ran = seen => [...seen.ran.map(what => `payload ${what} ran`), ...seen.dialogs.map(text => `a dialog: ${text}`), ...seen.requests.map(url => `a request: ${url}`)];
const flat = text => text.replace(/\s+/g, " ");
const POLICY = /<meta http-equiv="Content-Security-Policy"[^>]*>/;
const altered = (file, change) => { const copy = file.replace(/\.html$/, ".altered.html"); writeFileSync(copy, change(readFileSync(file, "utf8"))); return copy; };
// what a page would be if nothing were escaped; the record that it carries stays as it is
const unescaped = html => html.replace(/<template id="carried">.*?<\/template>/s, "").replaceAll("&lt;", "<").replaceAll("&gt;", ">").replaceAll("&quot;", '"').replaceAll("&#x27;", "'").replaceAll("&#39;", "'").replaceAll("&amp;", "&");

const browser = new Browser(browserProgram);
const faults = [];
const bitten = new Map();
try {
  const hostile = makePages("hostile");
  const plain = makePages("tame");
  const kind = file => (/plan\//.test(file) ? "plan" : /index|history/.test(file) ? file.match(/index|history/)[0] : "report");
  const seenPlaces = new Map();
  const shapes = pages => pages.map(page => `${kind(page.file)} ${page.seen.elements.join(" ")}`).sort();
  const looks = { hostile: [], tame: [] };
  for (const file of plain.files) looks.tame.push({ file, seen: await look(browser, file) });
  for (const file of hostile.files) {
    const name = kind(file);
    const seen = await look(browser, file);
    looks.hostile.push({ file, seen });
    faults.push(...ran(seen).map(fault => `${name}: ${fault}`), ...seen.said.map(text => `${name}: console: ${text}`));
    const text = flat(seen.text);
    for (const [marker, { place, text: typed }] of hostile.typed) {
      if (!text.includes(marker)) continue;
      // names of trials are shown as they name files, where other letters than those of a word become hyphens
      const [whole, asFile] = [flat(typed), typed.replace(/[^\p{L}\p{N}._-]/gu, "-").slice(0, 60)];
      if (text.includes(whole) || (/name|folder|log/.test(place) && text.includes(asFile))) seenPlaces.set(place, true);
      else if (!seenPlaces.get(place)) seenPlaces.set(place, false);
    }
    const open = await look(browser, altered(file, html => { if (!POLICY.test(html)) throw new Error(`${name} has no policy`); return html.replace(POLICY, ""); }));
    faults.push(...ran(open).map(fault => `${name}, without its policy: ${fault}`));
    const spilt = await look(browser, altered(file, html => { const [policy] = html.match(POLICY); return unescaped(html.replace(POLICY, "")).replace("<head>", `<head>${policy}`); }));
    faults.push(...ran(spilt).filter(fault => !/request: (file|about|data)/.test(fault)).map(fault => `${name}, with escaping undone: ${fault}`));
    const both = await look(browser, altered(file, html => unescaped(html.replace(POLICY, ""))));
    bitten.set(name, (bitten.get(name) ?? 0) + ran(both).length);
  }
  for (const [place, whole] of seenPlaces) if (!whole) faults.push(`${place} is not shown as it was typed`);
  for (const [name, times] of bitten) if (!times) faults.push(`${name}: the check itself: nothing ran where nothing protects`);
  const [one, other] = [shapes(looks.hostile), shapes(looks.tame)];
  one.forEach((shape, at) => { if (shape !== other[at]) faults.push(`${shape.split(" ")[0]}: a page of hostile texts has other elements than one of plain words`); });
  if (seenPlaces.size < 20) faults.push(`only ${seenPlaces.size} places were seen: ${[...seenPlaces.keys()].join(", ")}`);
  console.log(`hostile texts: ${hostile.files.length} pages, ${hostile.typed.size} texts, ${seenPlaces.size} kinds of place shown; unprotected copies ran ${[...bitten.values()].reduce((sum, times) => sum + times)} payloads`);
} catch (why) {
  faults.push(why.stack);
} finally {
  await browser.close();
  if (!process.env.KEEP) rmSync(scratch, { recursive: true, force: true });
  else console.log(scratch);
}
for (const fault of new Set(faults)) console.log(`FAIL hostile texts: ${fault}`);
process.exitCode = faults.length ? 1 : 0;
