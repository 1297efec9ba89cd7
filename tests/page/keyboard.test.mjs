// The whole page works without a mouse: everything is reached, focus is seen, nothing traps it.

import { claim, differ, eventually, rows, same } from "./lib/check.mjs";
import { call, drawn, full } from "./lib/harness.mjs";
import { changed, picture } from "./lib/picture.mjs";

/** Presses Tab through the page; what was focused, in order. */
async function walk(page, most = 400) {
  const seen = [];
  for (let i = 0; i < most; i += 1) {
    await page.keyboard.press("Tab");
    const at = await page.evaluate(() => {
      const e = document.activeElement;
      if (!e || e === document.body) return null;
      e.dataset.walked ??= String(window.walked = (window.walked ?? 0) + 1);
      const style = getComputedStyle(e);
      const box = e.getBoundingClientRect();
      const input = e.closest("[data-input]")?.dataset.input;
      const ring = (style.outlineStyle !== "none" && parseFloat(style.outlineWidth) > 0) || style.boxShadow !== "none";
      const name = e.id ? `#${e.id}` : input ? `${input} ${e.getAttribute("role") ?? e.tagName}` : `${e.tagName.toLowerCase()} ${JSON.stringify(e.dataset)} ${e.textContent.trim().slice(0, 20)}`;
      return { mark: e.dataset.walked, name, ring, width: box.width, height: box.height, act: e.dataset.act ?? null, role: e.getAttribute("role"), input: input ?? null };
    });
    if (at === null || seen.some((other) => other.mark === at.mark)) break;
    seen.push(at);
  }
  return seen;
}

export const tests = {
  async "Tab reaches every part, shows where it is, and leaves the page again"(t) {
    const page = await t.open();
    await full(page);
    const seen = await walk(page);
    t.note(`${seen.length} stops`);
    claim(seen.length < 400, "Tab does not come to an end within 400 stops");
    const names = seen.map((stop) => stop.name);
    for (const id of ["#shield", "#find", "#moment", "#brush-low", "#brush-high"]) claim(names.includes(id), `Tab does not reach ${id}; it reaches ${names.slice(0, 40).join(" · ")}`);
    for (const act of ["units", "link"]) claim(seen.some((stop) => stop.act === act), `Tab does not reach the button \`${act}\``);
    claim(seen.some((stop) => stop.input === "heating.scale" && stop.role === "slider"), "Tab does not reach the slider of the heating scale");
    const unseen = seen.filter((stop) => !stop.ring && stop.role !== "slider" && stop.name !== "#shield");
    same(unseen.map((stop) => stop.name), [], "stops without a focus ring");
    same(seen.filter((stop) => stop.width < 1 || stop.height < 1).map((stop) => stop.name), [], "stops without a size");
  },

  async "arrow keys turn the shield"(t) {
    const page = await t.open();
    await full(page);
    await page.focus("#shield");
    await drawn(page);
    const [box, before] = [await page.locator("#shield").boundingBox(), await picture(page)];
    const view = (await call(page, "scenario")).view;
    for (let i = 0; i < 4; i += 1) await page.keyboard.press("ArrowLeft");
    await drawn(page);
    claim(changed(before, await picture(page), box) > 0.02, "the picture did not turn");
    differ((await call(page, "scenario")).view, view, "the view in the scenario");
  },

  async "a tile is found, a slider moved, the colour changed, the table opened"(t) {
    const page = await t.open();
    await full(page);
    const tile = rows(await call(page, "tiles"))[99].tile;
    await page.focus("#find");
    await page.keyboard.type(tile);
    await page.keyboard.press("Enter");
    await eventually(async () => (await call(page, "scenario")).view.tile === tile, `tile ${tile} is picked`);
    const slider = page.locator("[data-input='heating.scale'] [role=slider]");
    await slider.focus();
    const before = Number(await slider.getAttribute("aria-valuenow"));
    await page.keyboard.press("ArrowRight");
    await full(page);
    claim(Number(await slider.getAttribute("aria-valuenow")) > before, "ArrowRight does not raise the value");
    claim((await call(page, "scenario")).heating.scale > 1, "ArrowRight does not raise the heating scale");
    await page.keyboard.press("Home");
    await drawn(page);
    same(await slider.getAttribute("aria-valuenow"), await slider.getAttribute("aria-valuemin"), "the value after Home");
    await page.locator("[data-colour='surface']").focus();
    await page.keyboard.press("Enter");
    await eventually(async () => (await page.getAttribute("body", "data-colour")) === "surface", "the colour is by surface temperature");
    await page.locator("#tab-table").focus();
    await page.keyboard.press("Enter");
    await page.waitForSelector("#table tr[data-tile]");
  },
};
