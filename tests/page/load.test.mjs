// The page opens by itself with the demonstration and a picture, fast, without a click.

import { claim, matches, rows, same } from "./lib/check.mjs";
import { call, full, ready, sinceStart } from "./lib/harness.mjs";
import { colours, picture } from "./lib/picture.mjs";

export const tests = {
  async "the demonstration stands with a picture and a verdict"(t) {
    const page = await t.tab();
    await page.goto(t.server.url);
    await ready(page);
    t.note(`first picture and full results after ${(await sinceStart(page)).toFixed(0)} ms`);
    const box = await page.locator("#shield").boundingBox();
    claim(box && box.width > 400 && box.height >= 400, `the shield's box is ${JSON.stringify(box)}; at least 400 px high is asked for`);
    const seen = colours(await picture(page), box);
    claim(seen > 20, `the shield shows ${seen} colours only`);
    matches(await page.locator("#verdict").innerText(), /\d.*tile/s, "the verdict");
    claim((await page.locator("#opening").count()) === 0 || !(await page.locator("#opening").isVisible()), "the opening words are still on screen");
    same((await call(page, "scenario")).vehicle.name, "Whinchat", "the vehicle's name");
    claim(rows(await call(page, "tiles")).length > 2000, "fewer than 2,000 tiles");
  },

  async "awaiting tileglow.ready before the engine is there works"(t) {
    const page = await t.tab();
    await page.goto(t.server.url, { waitUntil: "commit" });
    await page.waitForFunction(() => window.tileglow?.ready);
    // Whatever object stood there first: its promise resolves, and the API stands afterwards.
    await page.evaluate(async () => {
      await window.tileglow.ready;
      if (typeof window.tileglow.tiles() !== "string") throw new Error("no tiles after ready");
    });
  },

  async "times of the engine"(t) {
    const page = await t.open();
    await full(page);
    const { elapsed_s } = await call(page, "summary");
    claim(elapsed_s && typeof elapsed_s === "object", `summary().elapsed_s is ${JSON.stringify(elapsed_s)}, times by stage are asked for`);
    for (const [stage, seconds] of Object.entries(elapsed_s)) t.note(`${stage}: ${(1000 * seconds).toFixed(1)} ms`);
  },
};
