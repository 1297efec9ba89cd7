// SI and US customary units switch everywhere at once, and no file or result with them.

import { claim, differ, matches, same } from "./lib/check.mjs";
import { call, drawn, full } from "./lib/harness.mjs";

const shown = (page) => page.evaluate(() => document.body.innerText.replaceAll(/[\u202f\u00a0]/g, " "));

export const tests = {
  async "every shown quantity changes its unit"(t) {
    const page = await t.open();
    await full(page);
    const [tiles, si] = [await call(page, "tiles"), await shown(page)];
    same(await page.getAttribute("body", "data-units"), "si", "the units at first");
    claim(!/°F|\bft\b|\bBtu\b/.test(si), `SI shows a customary unit: ${si.match(/.{0,30}(°F|\bft\b|\bBtu\b).{0,20}/)?.[0]}`);
    await page.click("[data-act=units]");
    await full(page);
    await drawn(page);
    same(await page.getAttribute("body", "data-units"), "us", "the units after the switch");
    const us = await shown(page);
    matches(us, /°F/, "the page in US units");
    claim(!/\d ?(K|km|m\/s|kW\/m²|mm|kg)\b/.test(us), `US units show an SI one: ${us.match(/.{0,30}\d ?(K|km|m\/s|kW\/m²|mm|kg)\b.{0,20}/)?.[0]}`);
    same(await call(page, "tiles"), tiles, "tiles(), which stays SI");
    same((await call(page, "scenario")).view.units, "us", "view.units");
    await page.click("[data-act=units]");
    await full(page);
    same(await shown(page), si, "the page after switching back");
  },

  async "an input edited in US units is stored in SI"(t) {
    const page = await t.open();
    await page.click("[data-act=units]");
    await page.click("[data-more='flight']");
    await drawn(page);
    const entry = async () => (await call(page, "scenario")).entries[0].entry.altitude_m;
    const before = await entry();
    const field = page.locator("[data-input='entry.altitude_m'] input.num");
    const typed = Number((await field.inputValue()).replaceAll(",", ""));
    // Whatever the unit shown (ft or thousands of ft), it is a length: the same ratio on both sides.
    const other = Math.round(typed * 0.99);
    await field.fill(String(other));
    await field.press("Enter");
    await full(page);
    differ(await entry(), before, "the altitude");
    const ratio = (await entry()) / before / (other / typed);
    claim(Math.abs(ratio - 1) < 2e-3, `typed ${other} for ${typed}, the altitude went from ${before} to ${await entry()} m`);
  },
};
