// Trials whose every text is hostile: script, attribute and SVG payloads in every text field of trial.toml, in criteria files, in every column
// of every log, in names of files and folders; a field or column that knows a few words or numbers alone has them in a trial that is rejected
// for it. Which fields and columns there are, the program itself is asked, and one without a payload is a fault. What is made of them runs nothing and shows the text as it was typed, with
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
  `<a href="javascript:pwned(9)">x</a><base href="http://saltmarsh-quay.invalid/"><meta http-equiv="refresh" content="600;url=data:text/html,x">`,
  `} * { display: none } @import "http://saltmarsh-quay.invalid/a.css"; <style>* { color: red }</style>`,
];
// for what a message shows the first sixty letters of
const BRIEF = [`<script>pwned(11)</script>`, `<img src=x onerror=pwned(12)>`, `<svg onload=pwned(13)>`];
const tame = text => text.replace(/[^A-Za-z0-9]+/g, " ").trim();

/** Texts by a marker of their own; `hostile` false gives plain words in the same places. */
class Texts {
  constructor(hostile) {
    this.hostile = hostile;
    this.typed = new Map();
  }
  /** `short` for names, which have no room for more than one payload; `brief` for what is shown shortened. */
  make(place, { change = text => text, short = false, brief = false } = {}) {
    const number = this.typed.size;
    const payload = brief ? BRIEF[number % BRIEF.length] : (short ? [] : PAYLOADS.slice(0, 4)).concat(PAYLOADS[number % PAYLOADS.length]).join(" ");
    const text = change(`qz${number}qz${this.hostile ? payload : tame(payload)}`);
    this.typed.set(`qz${number}qz`, { place, text });
    return text;
  }
}

const toml = text => JSON.stringify(text);
const cell = text => `"${text.replaceAll('"', '""')}"`;

/** Every text of a schema: where it stands, `*` for a name of the user's choice and `[]` for each of a list, and whether it is free. */
function textsOf(schema, path = "") {
  const below = (part, name) => textsOf(part, path ? `${path}.${name}` : name);
  return [
    ...(schema.type === "string" ? [{ path, free: !schema.enum && !schema.format && !schema.const }] : []),
    ...Object.entries(schema.properties ?? {}).flatMap(([name, part]) => below(part, name)),
    ...(schema.additionalProperties?.type ? below(schema.additionalProperties, "*") : []),
    ...(schema.items ? textsOf(schema.items, `${path}[]`) : []),
  ];
}

/** Every free text key of a schema with a payload, as lines of TOML. `name` gives tables with a name of the user's choice theirs. */
function everyText(schema, texts, path, name, kind) {
  let own = "";
  let tables = "";
  const place = key => `${kind}: ${[...path, key].map(part => (part === name ? "*" : part)).join(".")}`;
  for (const [key, part] of Object.entries(schema.properties)) {
    if (part.type === "string" && !part.enum && !part.format && key !== "criteria") own += `${key} = ${toml(texts.make(place(key)))}\n`;
    if (part.type === "object") tables += everyText(part, texts, [...path, key], name, kind);
  }
  if (schema.additionalProperties?.type === "object") tables += everyText(schema.additionalProperties, texts, [...path, name], name, kind);
  const head = path.map(key => (/^[a-z_]+$/.test(key) ? key : toml(key))).join(".");
  return (own && path.length ? `[${head}]\n${own}` : own) + tables;
}

/** TOML that states `text` at a path of a schema. */
function stating(path, text) {
  const parts = path.split(".").map(part => (part === "*" ? "spare" : part));
  const key = parts.pop();
  const table = parts.at(-1)?.endsWith("[]") ? `[[${parts.join(".").replace("[]", "")}]]` : parts.length ? `[${parts.join(".")}]` : "";
  return `${table}\n${key.replace("[]", "")} = ${key.endsWith("[]") ? `[${text}]` : text}\n`;
}

/** The columns of every log, by the blank ones that the program makes. */
function columnsOfLogs() {
  const folder = join(scratch, "blank");
  if (!existsSync(folder)) told(["new", folder]);
  return Object.fromEntries(readdirSync(folder).filter(file => file.endsWith(".csv")).map(file => {
    const header = readFileSync(join(folder, file), "utf8").split("\n").find(line => line && !line.startsWith("#"));
    return [file.replace(".csv", ""), header.split(",")];
  }));
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
  const file = (name, ending) => texts.make(name, { change: text => text.replaceAll("/", "∕"), short: true }) + ending; // no name of a file has a slash
  const put = (trial, name, text) => { mkdirSync(join(folder, trial), { recursive: true }); writeFileSync(join(folder, trial, name), text); };
  const gauge = texts.make("name of a gauge's table", { short: true });
  const limits = file("criteria file", ".toml");
  const settings = schema("trial");
  delete settings.properties.simulate;
  const facts = { machine: "centre_height_mm = 115.0\n", bar: "diameter_mm = 40.0\nlength_mm = 220.0\n", trial: `date = 2026-03-14\npaper = "acceptance"\n` };
  for (const trial of ["a", "b"]) {
    let text = everyText(settings, texts, [], gauge, "trial.toml");
    for (const [table, lines] of Object.entries({ ...facts, trial: facts.trial.replace("03", trial === "a" ? "03" : "05") })) {
      text = text.includes(`[${table}]\n`) ? text.replace(`[${table}]\n`, `[${table}]\n${lines}`) : `${text}[${table}]\n${lines}`;
    }
    text += `[acceptance]\ncriteria = ${toml(limits)}\n[testbar]\nturned_here = false\n`;
    // both trials are of one machine
    if (trial === "b") text = text.replace(/(\[machine\]\n[^[]*?name = )".*"/, (_, head) => `${head}${toml([...texts.typed.values()].find(each => each.place === "trial.toml: machine.name").text)}`);
    put(trial, "trial.toml", text);
    let log = `setting,station_mm,diameter_mm,pass,direction,operator,gauge,edge,time,measured_at,exclude,note,${cell(texts.make("unread column", { short: true }))}\n`;
    for (const [pass, direction] of [[1, "to-headstock"], [2, "to-tailstock"], [3, "to-headstock"], [4, "to-tailstock"], [5, "to-headstock"], [6, "to-tailstock"]]) {
      const edge = cell(texts.make("diameters: edge"));
      for (const station of [10, 60, 110, 160, 210]) {
        const why = pass === 3 && station === 60 ? cell(texts.make("diameters: exclude")) : "";
        const value = (40 - pass * 0.1 + station * 0.0001 + ((station * 7 + pass * 13) % 5) * 0.0007 + (pass === 4 && station === 110 ? 0.09 : 0)).toFixed(4);
        log += [pass > 4 ? 1 : 0, station, value, pass, direction, cell(texts.make("diameters: operator")), cell(gauge), edge, "", cell(texts.make("diameters: measured_at")), why, cell(texts.make("diameters: note")), "1"].join(",") + "\n";
      }
    }
    put(trial, `diameters-${file("log of diameters", ".csv")}`, log);
    put(trial, "levels.csv", `station_mm,roll_mm_per_m,note\n${[40, 160, 280, 400].map(at => `${at},${(at * 0.0001).toFixed(4)},${cell(texts.make("levels: note"))}`).join("\n")}\n`);
    put(trial, "indicator.csv", `station_mm,reading_mm,note\n${[20, 80, 140, 200].map(at => `${at},${(at * 0.00002).toFixed(4)},${cell(texts.make("indicator: note"))}`).join("\n")}\n`);
    put(trial, "clamp.csv", `foot,station_mm,change_mm,note\n${["headstock-front", "headstock-rear", "tailstock-front", "tailstock-rear"].map((foot, at) => `${foot},150,${(at * 0.001).toFixed(3)},${cell(texts.make("clamp: note"))}`).join("\n")}\n`);
    put(trial, "moves.csv", `from_setting,to_setting,foot,raise_mm,note\n0,1,tailstock-front,0.02,${cell(texts.make("moves: note"))}\n`);
    put(trial, file("photograph", ".png"), Buffer.from("iVBORw0KGgoAAAANSUhEUgAAAAEAAAABCAYAAAAfFcSJAAAADUlEQVR42mNk+M9QDwADhgGAWjR9awAAAABJRU5ErkJggg==", "base64"));
    const criteria = schema("criteria");
    const own = everyText(criteria, texts, [], "", "criteria");
    const limit = everyText(criteria.properties.limit.items, texts, ["limit[]"], "", "criteria").replace("[\"limit[]\"]\n", "");
    put(trial, limits, `${own}[[limit]]\nquantity = "taper"\nlimit_mm = 0.02\nover_mm = 300.0\nprovenance = "from-memory"\n${limit}`);
  }
  const lone = file("lone log", ".csv");
  put(".", lone, "station_mm,diameter_mm,note\n10,38.021,x\n110,38.030,x\n190,38.034,x\n");
  put(file("folder", ""), "diameters.csv", "station_mm,diameter_mm,note\n10,38.021,x\n110,38.030,x\n190,38.034,x\n");
  rejectedForOneText(put, texts, schema("trial"), schema("criteria"));
  put("rejected", "diameters.csv", `station_mm,diameter_mm\n10,${cell(texts.make("what is no number"))}\n110,38.03\n`);
  put("rejected", "trial.toml", `[trial]\nname = ${toml(texts.make("name of a rejected trial"))}\n${toml(texts.make("unknown key", { short: true }))} = 1\n`);
  const plan = everyText({ properties: { trial: settings.properties.trial, machine: settings.properties.machine, gauge: settings.properties.gauge } }, texts, [], "spare", "plan");
  mkdirSync(join(folder, "..", "plans"), { recursive: true });
  writeFileSync(join(folder, "..", "plans", hostile ? "hostile.toml" : "tame.toml"), `${plan}[bar]\ndiameter_mm = 40.0\nlength_mm = 150.0\n[plan]\ntarget_expanded_mm = 0.01\n`);
  return texts.typed;
}

/** A trial for each text that must be a number or one of a few words, rejected for the payload in its place. */
function rejectedForOneText(put, texts, settings, criteria) {
  const log = "station_mm,diameter_mm\n10,38.021\n190,38.034\n";
  let count = 0;
  const next = () => `rejected-${(count += 1)}`;
  const goods = { foot: "headstock-front", from_setting: "0", to_setting: "1", diameter_mm: "38.02", station_mm: "10" };
  for (const [kind, columns] of Object.entries(columnsOfLogs())) {
    const free = [...texts.typed.values()].map(({ place }) => place);
    for (const column of columns.filter(column => !free.includes(`${kind}: ${column}`) && `${kind}: ${column}` !== "diameters: gauge")) {
      const trial = next();
      const cells = columns.map(each => (each === column ? cell(texts.make(`${kind}: ${column}`)) : goods[each] ?? (/_mm|_per_m/.test(each) && !/depth|feed|shift|reference/.test(each) ? "0.01" : "")));
      put(trial, "diameters.csv", log);
      put(trial, `${kind}.csv`, `${columns.join(",")}\n${cells.join(",")}\n`);
    }
  }
  for (const { path } of textsOf(settings).filter(({ free }) => !free)) {
    const trial = next();
    put(trial, "diameters.csv", log);
    put(trial, "trial.toml", stating(path, toml(texts.make(`trial.toml: ${path}`, { brief: true }))));
  }
  for (const { path } of textsOf(criteria).filter(({ free }) => !free)) {
    const trial = next();
    put(trial, "diameters.csv", log);
    put(trial, "trial.toml", `[acceptance]\ncriteria = "limits.toml"\n`);
    put(trial, "limits.toml", stating(path, toml(texts.make(`criteria: ${path}`, { brief: true }))));
  }
}

/** Texts that the program knows and that have no payload. */
function withoutPayload(typed) {
  const have = new Set([...typed.values()].map(({ place }) => place));
  const known = [
    ...textsOf(schema("trial")).map(({ path }) => `trial.toml: ${path}`),
    ...textsOf(schema("criteria")).map(({ path }) => `criteria: ${path}`),
    ...Object.entries(columnsOfLogs()).flatMap(([kind, columns]) => columns.map(column => `${kind}: ${column}`)),
  ];
  // the gauge's column holds the name of its table, the key names the criteria file: both have payloads as such
  const elsewhere = new Set(["diameters: gauge", "trial.toml: acceptance.criteria"]);
  return { known: known.length, missing: known.filter(place => !have.has(place) && !elsewhere.has(place)) };
}

/** Makes every page of the trials; their files, by kind. */
function makePages(name) {
  const [trials, out] = [join(scratch, name), join(scratch, `${name}-pages`)];
  mkdirSync(trials);
  const typed = makeTrials(trials, name === "hostile");
  const judged = told(["check", trials, "--format", "json"]).trim().split("\n").map(line => JSON.parse(line));
  const rejected = judged.filter(trial => !trial.accepted);
  const toBe = 1 + readdirSync(trials).filter(folder => folder.startsWith("rejected-")).length;
  if (rejected.length !== toBe) throw new Error(`${toBe} trials were to be rejected, not ${rejected.length}: ${JSON.stringify(rejected.map(trial => trial.findings.filter(each => each.severity === "error")), null, 1).slice(0, 2000)}`);
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
const unescaped = html => html.replace(/<template id="carried">.*?<\/template>/s, "").replaceAll("&lt;", "<").replaceAll("&gt;", ">").replaceAll("&quot;", '"').replaceAll("&#x27;", "'").replaceAll("&#39;", "'").replaceAll("&#x2f;", "/").replaceAll("&amp;", "&");

const browser = new Browser(browserProgram);
const faults = [];
const bitten = new Map();
try {
  const hostile = makePages("hostile");
  const plain = makePages("tame");
  const { known, missing } = withoutPayload(hostile.typed);
  faults.push(...missing.map(place => `${place} has no payload`));
  if (known < 80) faults.push(`the check itself: only ${known} texts are known`);
  const less = new Map([...hostile.typed].filter(([, { place }]) => place !== "diameters: measured_at"));
  if (withoutPayload(less).missing.join() !== "diameters: measured_at") faults.push("the check itself: a column without a payload is not seen");
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
  console.log(`hostile texts: ${hostile.files.length} pages, ${hostile.typed.size} texts in all ${known} fields and columns, ${seenPlaces.size} kinds of place shown; unprotected copies ran ${[...bitten.values()].reduce((sum, times) => sum + times)} payloads`);
} catch (why) {
  faults.push(why.stack);
} finally {
  await browser.close();
  if (!process.env.KEEP) rmSync(scratch, { recursive: true, force: true });
  else console.log(scratch);
}
for (const fault of new Set(faults)) console.log(`FAIL hostile texts: ${fault}`);
process.exitCode = faults.length ? 1 : 0;
