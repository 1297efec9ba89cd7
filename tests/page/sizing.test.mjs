// The thickness that every tile needs: worked out on asking, by zone, refused where it cannot be, taken over in one undoable step.

import { claim, eventually, matches, rows, same } from "./lib/check.mjs";
import { call, full } from "./lib/harness.mjs";
import { load, packedTexts, plate } from "./lib/vehicles.mjs";

/** Six tiles on a plate: the whole of it is sized in a moment. */
async function opened(t) {
  const page = await t.open();
  same(await load(page, packedTexts(plate())), null, "refusal");
  await full(page);
  await page.click("#tab-sizing");
  return page;
}

const worked = (page) => page.waitForSelector("[data-act=take-sizes]:not([disabled])", { timeout: 90_000 });

export const tests = {
  async "every tile's thickness keeps the margin once taken over, and one undo brings the old back"(t) {
    const page = await opened(t);
    const before = await call(page, "scenario");
    await page.click("[data-act=size]");
    await worked(page);
    matches(await page.locator("#sizing .sized").innerText(), /in place of .* grow, .* shrink/, "what sizing says");
    const never = await page.evaluate(() => [...document.querySelectorAll("#sizing tr[data-tile]")].filter((row) => /not at the thickest/.test(row.textContent)).map((row) => row.dataset.tile));
    claim(never.length < 6, "no tile could be sized");
    await page.click("[data-act=take-sizes]");
    await full(page);
    const scenario = await call(page, "scenario");
    claim(scenario.changes.length > 0, "nothing was taken over");
    for (const row of rows(await call(page, "tiles"))) {
      if (never.includes(row.tile)) continue;
      for (const key of ["margin_bondline_k", "margin_structure_k"]) claim(row[key] === "" || Number(row[key]) >= -0.2, `${row.tile}: ${key} is ${row[key]} at ${row.thickness_mm} mm`);
      claim(Number(row.thickness_mm) >= scenario.sizing.minimum_mm - 1e-9, `${row.tile} is ${row.thickness_mm} mm`);
    }
    await page.click("[data-act=undo]");
    await full(page);
    same((await call(page, "scenario")).changes, before.changes, "changes after undo");
  },

  async "a number of the shop is taken into the scenario, one out of range is refused in place"(t) {
    const page = await opened(t);
    const step = page.locator("[data-size=step]");
    await step.fill("2");
    await step.press("Enter");
    await eventually(async () => (await call(page, "scenario")).sizing.step_mm === 2, "sizing.step_mm");
    const least = page.locator("[data-size=minimum]");
    await least.fill("900");
    await least.press("Enter");
    await eventually(async () => /900/.test(await page.locator("#sizing-told").innerText()), "the refusal");
    same((await call(page, "scenario")).sizing.minimum_mm, 8, "sizing.minimum_mm");
    await page.click("[data-act=size]");
    await worked(page);
    const needed = (await page.locator("#sizing table").nth(1).locator("tbody tr td:nth-child(4)").allInnerTexts()).map((text) => parseFloat(text));
    for (const mm of needed.filter(Number.isFinite)) claim(Math.abs(mm / 2 - Math.round(mm / 2)) < 1e-6, `${mm} mm is no step of 2 mm`);
  },
};
