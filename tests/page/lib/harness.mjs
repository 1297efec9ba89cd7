// What a page test works with: a served copy of dist/, a real Chromium, and a record of everything the page did.

import { execFileSync } from "node:child_process";
import { existsSync, mkdirSync, mkdtempSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { fileURLToPath } from "node:url";
import { serve } from "../../../www/server.mjs";
import { tool } from "./tools.mjs";

export const ROOT = fileURLToPath(new URL("../../../", import.meta.url));
export const DIST = process.env.TILEGLOW_DIST ?? join(ROOT, "dist");
export const PROGRAM = process.env.TILEGLOW_PROGRAM ?? join(ROOT, "target", "release", "tileglow");
const SHOTS = join(ROOT, "tests", ".tools", "shots");

/** Software rendering, so that a machine without a graphics card draws too (text and boxes plainly, not through the software's WebGL, which takes
 * several times as long); nothing of the browser's own on the network. */
const FLAGS = ["--no-sandbox", "--use-gl=angle", "--use-angle=swiftshader", "--enable-unsafe-swiftshader", "--disable-gpu-rasterization", "--disable-background-networking",
  "--disable-component-update", "--disable-sync", "--no-first-run", "--force-color-profile=srgb", "--host-resolver-rules=MAP * ~NOTFOUND, EXCLUDE 127.0.0.1"];

/** Starts the browser and the server that all tests of a run share. */
export async function begin() {
  const executablePath = process.env.CHROMIUM ?? ["/usr/bin/chromium", "/usr/bin/chromium-browser", "/usr/bin/google-chrome"].find((path) => existsSync(path));
  if (!executablePath) throw new Error("no Chromium: set CHROMIUM to its path, or run this through `sh tests/run.sh page`");
  if (!existsSync(join(DIST, "index.html"))) throw new Error(`no page in ${DIST}: \`sh www/serve.sh build\` builds it`);
  const browser = await tool("playwright-core").chromium.launch({ executablePath, args: FLAGS });
  return { browser, server: await serve(DIST) };
}

/** One test's surroundings: its own browser profile, so that storage and cache start empty. */
export class Bench {
  constructor({ browser, server }) {
    this.browser = browser;
    this.server = server;
    this.contexts = [];
    this.folders = [];
    /** Console errors, exceptions, and requests to another host. A test that provokes some takes them off. */
    this.complaints = [];
    /** Lines for the report of the run: measured times. */
    this.notes = [];
  }

  note(line) {
    this.notes.push(line);
  }

  /** A new profile with one empty tab. Options: width, height, dark, reducedMotion, touch, scale (device pixels a CSS pixel). */
  async tab({ width = 1440, height = 900, dark = false, touch = false, scale = 1, reducedMotion = true } = {}) {
    const context = await this.browser.newContext({
      viewport: { width, height },
      deviceScaleFactor: scale,
      colorScheme: dark ? "dark" : "light",
      reducedMotion: reducedMotion ? "reduce" : "no-preference",
      hasTouch: touch,
      permissions: ["clipboard-read", "clipboard-write"],
    });
    context.setDefaultTimeout(30_000);
    this.contexts.push(context);
    const own = new URL(this.server.url).origin;
    context.on("request", (request) => {
      const url = request.url();
      if (!url.startsWith(own + "/") && !/^(data|blob|file):/.test(url)) this.complaints.push(`request to another host: ${url}`);
    });
    context.on("console", (message) => {
      if (message.type() === "error") this.complaints.push(`console error: ${message.text()} (${message.location().url})`);
    });
    context.on("weberror", (failure) => this.complaints.push(`exception: ${failure.error()}`));
    return context.newPage();
  }

  /** Opens the page and waits until its first full results stand. Options: as `tab`, and hash. */
  async open(options = {}) {
    const page = await this.tab(options);
    await this.go(page, options.hash ?? "");
    return page;
  }

  async go(page, hash = "") {
    await page.goto(this.server.url + hash);
    await ready(page);
  }

  /** A folder of this test's own, gone with it. */
  folder() {
    const path = mkdtempSync(join(tmpdir(), "tileglow-"));
    this.folders.push(path);
    return path;
  }

  /** A picture of a tab in tests/.tools/shots, to look at after a failure. */
  async shot(page, name) {
    mkdirSync(SHOTS, { recursive: true });
    await page.screenshot({ path: join(SHOTS, `${name}.png`) }).catch(() => {});
  }

  async end(failedAs) {
    for (const context of this.contexts) {
      if (failedAs) for (const [i, page] of context.pages().entries()) await this.shot(page, `${failedAs}-${i}`);
      await context.close();
    }
    for (const path of this.folders) rmSync(path, { recursive: true, force: true });
  }
}

/** Waits for `tileglow.ready`; a rejection fails with its reason. */
export async function ready(page) {
  await page.waitForFunction(() => window.tileglow !== undefined);
  await page.evaluate(() => window.tileglow.ready);
  await page.waitForSelector("body[data-ready='1']", { state: "attached" });
}

/** Waits until the results on screen are the full ones of the present inputs; two frames first, in which an input of just now is taken. */
export async function full(page) {
  await drawn(page);
  await page.waitForSelector("body[data-full='1']", { state: "attached", timeout: 60_000 });
}

/** Waits for two drawn frames, after which what was asked for before is on screen. */
export async function drawn(page) {
  await page.evaluate(() => new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done))));
}

/** `tileglow.NAME(...args)` in the page. */
export const call = (page, name, ...args) => page.evaluate(([name, args]) => window.tileglow[name](...args), [name, args]);

/** Runs the native command; returns its stdout. */
export function native(...args) {
  if (!existsSync(PROGRAM)) throw new Error(`no ${PROGRAM}: \`cargo build --release\` builds it`);
  return execFileSync(PROGRAM, args, { encoding: "utf8", maxBuffer: 1 << 28, stdio: ["ignore", "pipe", "pipe"] });
}

/** Starts the clock in the page: the time origin to now, ms. */
export const sinceStart = (page) => page.evaluate(() => performance.now());
