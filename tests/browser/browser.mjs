// A headless browser, driven through a pair of pipes: no driver library is needed.
import { spawn } from "node:child_process";
import { mkdtempSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";

const FLAGS = [
  "--headless", "--no-sandbox", "--disable-gpu", "--disable-background-networking", "--disable-component-update", "--disable-sync",
  "--disable-default-apps", "--disable-extensions", "--no-first-run", "--no-pings", "--host-resolver-rules=MAP * ~NOTFOUND",
  "--hide-scrollbars", "--allow-file-access-from-files", "--remote-debugging-pipe",
];

/** One browser process with a fresh profile. Every answer that takes longer than a minute is an error. */
export class Browser {
  constructor(program) {
    this.profile = mkdtempSync(join(tmpdir(), "pages-"));
    this.process = spawn(program, [...FLAGS, `--user-data-dir=${this.profile}`, "about:blank"],
      { stdio: ["ignore", "ignore", "ignore", "pipe", "pipe"] });
    this.waiting = new Map();
    this.listeners = new Map();
    this.number = 0;
    let rest = Buffer.alloc(0);
    this.process.stdio[4].on("data", bytes => {
      rest = Buffer.concat([rest, bytes]);
      for (let end; (end = rest.indexOf(0)) >= 0; rest = rest.subarray(end + 1)) this.#take(JSON.parse(rest.subarray(0, end).toString()));
    });
    this.process.on("error", why => this.#drop(why));
    this.process.on("exit", () => this.#drop(new Error("the browser ended")));
  }

  #take(message) {
    const asked = this.waiting.get(message.id);
    if (asked) {
      this.waiting.delete(message.id);
      clearTimeout(asked.timer);
      if (message.error) asked.fail(new Error(`${asked.method}: ${message.error.message}`));
      else asked.done(message.result);
    } else if (message.sessionId) {
      this.listeners.get(message.sessionId)?.(message);
    }
  }

  #drop(why) {
    for (const asked of this.waiting.values()) asked.fail(why);
    this.waiting.clear();
  }

  ask(method, params = {}, sessionId = undefined) {
    const id = ++this.number;
    return new Promise((done, fail) => {
      const timer = setTimeout(() => { this.waiting.delete(id); fail(new Error(`${method}: no answer`)); }, 60000);
      this.waiting.set(id, { method, done, fail, timer });
      this.process.stdio[3].write(JSON.stringify({ id, method, params, sessionId }) + "\0");
    });
  }

  /** Opens `url` in a new tab that is `width` pixels wide; `prepare` may set the tab up before it loads. */
  async open(url, { width = 1280, height = 900, prepare = async () => {} } = {}) {
    const { targetId } = await this.ask("Target.createTarget", { url: "about:blank" });
    const { sessionId } = await this.ask("Target.attachToTarget", { targetId, flatten: true });
    const page = new Page(this, targetId, sessionId, url);
    this.listeners.set(sessionId, message => page.heard(message));
    for (const domain of ["Page", "Runtime", "Log", "Network", "Accessibility"]) await page.ask(`${domain}.enable`);
    await page.resize(width, height);
    await prepare(page);
    await page.load();
    return page;
  }

  async close() {
    await this.ask("Browser.close").catch(() => {});
    await new Promise(done => (this.process.exitCode === null ? this.process.on("exit", done) : done()));
    rmSync(this.profile, { recursive: true, force: true, maxRetries: 5 });
  }
}

/** A tab: what its console said, what it asked the network for, which dialogs it opened. */
export class Page {
  constructor(browser, targetId, sessionId, url) {
    Object.assign(this, { browser, targetId, sessionId, url, said: [], requests: [], dialogs: [], loaded: () => {} });
  }

  ask(method, params = {}) {
    return this.browser.ask(method, params, this.sessionId);
  }

  heard({ method, params }) {
    if (method === "Page.loadEventFired") this.loaded();
    if (method === "Runtime.consoleAPICalled" && ["error", "warning", "assert"].includes(params.type)) {
      this.said.push(params.args.map(part => part.value ?? part.description).join(" "));
    }
    if (method === "Runtime.exceptionThrown") this.said.push(params.exceptionDetails.exception?.description ?? params.exceptionDetails.text);
    if (method === "Log.entryAdded" && ["error", "warning"].includes(params.entry.level)) this.said.push(params.entry.text);
    if (method === "Network.requestWillBeSent") {
      const asked = params.request.url;
      if (asked !== this.url && !asked.startsWith("data:") && asked !== "about:blank") this.requests.push(asked);
    }
    if (method === "Page.javascriptDialogOpening") {
      this.dialogs.push(params.message);
      this.ask("Page.handleJavaScriptDialog", { accept: false }).catch(() => {});
    }
  }

  async load() {
    const loaded = new Promise(done => { this.loaded = done; });
    await this.ask("Page.navigate", { url: this.url });
    await loaded;
    await this.run("new Promise(done => requestAnimationFrame(() => setTimeout(done, 50)))");
  }

  resize(width, height) {
    return this.ask("Emulation.setDeviceMetricsOverride", { width, height, deviceScaleFactor: 1, mobile: false });
  }

  media(features) {
    return this.ask("Emulation.setEmulatedMedia", { features: Object.entries(features).map(([name, value]) => ({ name, value })) });
  }

  /** The value of an expression or of a function called with `args`, awaited. Runs whatever policy the page has. */
  async run(code, ...args) {
    const expression = typeof code === "function" ? `(${code})(...${JSON.stringify(args)})` : code;
    const answer = await this.ask("Runtime.evaluate", { expression, awaitPromise: true, returnByValue: true });
    if (answer.exceptionDetails) throw new Error(answer.exceptionDetails.exception?.description ?? answer.exceptionDetails.text);
    return answer.result.value;
  }

  async press(key) {
    const keys = { Tab: [9, "Tab", ""], Enter: [13, "Enter", "\r"] };
    const [windowsVirtualKeyCode, code, text] = keys[key];
    await this.ask("Input.dispatchKeyEvent", { type: text ? "keyDown" : "rawKeyDown", key, code, windowsVirtualKeyCode, text });
    await this.ask("Input.dispatchKeyEvent", { type: "keyUp", key, code, windowsVirtualKeyCode });
  }

  /** The page on paper of that size in inches. */
  async pdf(paperWidth, paperHeight) {
    const { data } = await this.ask("Page.printToPDF", { paperWidth, paperHeight, printBackground: true });
    return Buffer.from(data, "base64");
  }

  async picture(clip) {
    const { data } = await this.ask("Page.captureScreenshot", { format: "png", captureBeyondViewport: true, ...(clip && { clip }) });
    return Buffer.from(data, "base64");
  }

  close() {
    this.browser.listeners.delete(this.sessionId);
    return this.browser.ask("Target.closeTarget", { targetId: this.targetId });
  }
}
