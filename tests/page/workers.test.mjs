// The work in depth runs in workers: the same bytes whatever their number, none lost when one dies, the page's own thread without any.

import { claim, eventually, matches, same } from "./lib/check.mjs";
import { call, drawn, full, ready } from "./lib/harness.mjs";

/** A browser that tells of so many threads. */
const threads = (page, number) => page.addInitScript((number) => Object.defineProperty(navigator, "hardwareConcurrency", { get: () => number }), number);
const trust = (page) => page.locator("#trust").innerText();

export const tests = {
  async "the same bytes from two workers, from four and from none, which is said"(t) {
    const found = [];
    for (const number of [2, 8]) {
      const page = await t.tab();
      await threads(page, number);
      await t.go(page);
      same(page.workers().length, number === 2 ? 2 : 4, `workers with ${number} threads`);
      found.push(await call(page, "tiles"));
      claim(!/own thread/.test(await trust(page)), "workers work, and the page says that none does");
      await page.close();
    }
    same(found[1], found[0], "tiles() of four workers against two");
    const page = await t.tab();
    await page.addInitScript(() => { window.Worker = class { constructor() { throw new Error("no workers here"); } }; });
    await t.go(page);
    same(await call(page, "tiles"), found[0], "tiles() without any worker");
    matches(await trust(page), /own thread/, "what the page says without workers");
  },

  async "a worker whose file cannot be had leaves the work to the page's own thread"(t) {
    const page = await t.tab();
    await page.route(/worker\.js/, (route) => route.abort());
    await t.go(page);
    matches(await trust(page), /own thread/, "what the page says");
    claim(/,\d+\.?\d*,\d+\.?\d*,\d/.test((await call(page, "tiles")).split("\n")[400]), "a tile without numbers in depth");
    // The blocked file is what this test is about.
    t.complaints = t.complaints.filter((line) => !line.includes("worker.js"));
  },

  async "a worker that dies is replaced and its work done again"(t) {
    const page = await t.open();
    const tiles = await call(page, "tiles");
    const [scenario] = [await call(page, "scenario")];
    await page.evaluate((scenario) => void window.tileglow.open({ ...scenario, heating: { ...scenario.heating, scale: 1.05 } }), scenario);
    // It goes without a word in the middle of its work, as a browser short of memory ends one.
    await page.workers()[0].evaluate(() => self.close());
    await page.evaluate((scenario) => window.tileglow.open(scenario), scenario);
    same(await call(page, "tiles"), tiles, "tiles() after a worker died");
    // One that died with empty hands is missed when it is next handed something.
    await page.evaluate((scenario) => window.tileglow.open({ ...scenario, heating: { ...scenario.heating, scale: 1.1 } }), scenario);
    await eventually(() => page.workers().length >= 2, "a new worker", 20_000);
    await page.evaluate((scenario) => window.tileglow.open(scenario), scenario);
    same(await call(page, "tiles"), tiles, "tiles() with the new worker");
  },

  async "what is on screen while the work goes on is called an estimate, tile by tile, and counted"(t) {
    const page = await t.open();
    const field = page.locator("[data-input='heating.scale'] input.num");
    await field.fill("1.1");
    await field.press("Enter");
    await page.waitForSelector("body[data-full='0']", { state: "attached" });
    matches(await page.locator("#verdict").innerText(), /^About /, "the verdict while the work goes on");
    matches(await trust(page), /^Estimate/, "the state while the work goes on");
    await full(page);
    claim(!/About/.test(await page.locator("#verdict").innerText()), "the full verdict still says about");
    matches(await trust(page), /^Full result, stated error ≤ [\d.]+/, "the state of the full result");
    claim(!(await page.locator("#working").isVisible()), "the bar stays when the work is done");
  },

  async "the work can be stopped and gone on with"(t) {
    const page = await t.tab();
    // Workers that dawdle, so that there is something to stop.
    await page.addInitScript(() => {
      const post = Worker.prototype.postMessage;
      Worker.prototype.postMessage = function (message, ...rest) {
        if (message.kind === "slice") setTimeout(() => post.call(this, message, ...rest), 400);
        else post.call(this, message, ...rest);
      };
    });
    await page.goto(t.server.url);
    const stop = page.locator("[data-act=stop]");
    await stop.waitFor({ state: "visible", timeout: 60_000 });
    await stop.click();
    const words = page.locator("#working span");
    await eventually(async () => /^Stopped: [\d,]+ of [\d,]+ tiles/.test(await words.innerText()), "what the page says when stopped");
    // A slice that a worker holds is still brought home; on a slow machine that takes a while.
    let count = "";
    await eventually(async () => {
      const before = count;
      count = await words.innerText();
      return count === before || page.waitForTimeout(4000);
    }, "the count at rest", 30_000);
    const [done, all] = count.match(/[\d,]+/g).map((number) => Number(number.replaceAll(",", "")));
    claim(done < all, `${count}: the stop came too late to stop anything`);
    await page.waitForTimeout(4000);
    same(await words.innerText(), count, "the count a while after the stop");
    same(await page.locator("body").getAttribute("data-full"), "0", "data-full when stopped");
    await page.locator("[data-act=go-on]").click();
    await eventually(async () => (await words.innerText()) !== count, "the count after going on", 30_000);
    // A script that asks gets the full results all the same.
    const tiles = await call(page, "tiles");
    await ready(page);
    same(await call(page, "tiles"), tiles, "tiles() asked for in between");
  },

  async "a newer input drops what the older one asked"(t) {
    const page = await t.open();
    const scenario = await call(page, "scenario");
    const first = await call(page, "tiles");
    await page.evaluate(async (scenario) => {
      const asked = [];
      for (const scale of [0.9, 1.2, 0.8, 1.1]) asked.push(window.tileglow.open({ ...scenario, heating: { ...scenario.heating, scale } }));
      asked.push(window.tileglow.open(scenario));
      await Promise.all(asked);
    }, scenario);
    await full(page);
    same(await call(page, "tiles"), first, "tiles() after five scenarios one upon the other");
    await drawn(page);
  },
};
