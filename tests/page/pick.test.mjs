// A tile is picked by click, by the list, by its number, by the verdict; the card tells its own numbers.

import { claim, eventually, matches, rows, same } from "./lib/check.mjs";
import { call, drawn, full } from "./lib/harness.mjs";
import { load, packedTexts, plate } from "./lib/vehicles.mjs";

const picked = async (page) => (await call(page, "scenario")).view.tile;
const cardSays = (page, tile) => eventually(async () => (await page.locator("#card").innerText()).includes(tile), `the card names ${tile}`);

export const tests = {
  async "the page opens with the worst tile picked, which is no choice of the user's"(t) {
    const page = await t.open();
    await full(page);
    const worst = rows(await call(page, "tiles")).filter((row) => row.margin_k !== "").sort((a, b) => a.margin_k - b.margin_k)[0].tile;
    await cardSays(page, worst);
    same(await page.locator("#rank [aria-current]").getAttribute("data-tile"), worst, "the tile marked in the list");
    same(await picked(page), null, "view.tile");
    await page.fill("#find", "0001");
    await page.press("#find", "Enter");
    await cardSays(page, "0001");
    same(await picked(page), "0001", "view.tile after a choice");
  },

  async "by a click on the shield"(t) {
    const page = await t.open();
    const box = await page.locator("#shield").boundingBox();
    const target = await page.evaluate(([x0, y0, w, h]) => {
      for (let j = 4; j < 20; j += 1) for (let i = 4; i < 20; i += 1) {
        const [x, y] = [x0 + (w * i) / 24, y0 + (h * j) / 24];
        const name = window.tileglow.tileAt(x - x0, y - y0);
        if (name !== null && document.elementFromPoint(x, y)?.id === "shield") return { x, y, name };
      }
      return null;
    }, [box.x, box.y, box.width, box.height]);
    claim(target, "no tile lies under a grid of points over the shield");
    await page.mouse.click(target.x, target.y);
    await cardSays(page, target.name);
    same(await picked(page), target.name, "view.tile");
  },

  async "by the list of limiting tiles, worst first"(t) {
    const page = await t.open();
    await full(page);
    const order = rows(await call(page, "tiles")).filter((row) => row.margin_k !== "").sort((a, b) => a.margin_k - b.margin_k);
    const first = page.locator("#rank button[data-tile]").first();
    const tile = await first.getAttribute("data-tile");
    same(Number(order.find((row) => row.tile === tile)?.margin_k), Number(order[0].margin_k), "the margin of the first in the list, against the smallest");
    await first.click();
    await cardSays(page, tile);
  },

  async "by typing its number"(t) {
    const page = await t.open();
    const tile = rows(await call(page, "tiles"))[1234].tile;
    await page.fill("#find", tile);
    await page.press("#find", "Enter");
    await cardSays(page, tile);
    same(await picked(page), tile, "view.tile");
    await page.fill("#find", "no such tile");
    await page.press("#find", "Enter");
    await drawn(page);
    same(await picked(page), tile, "view.tile after a number that no tile has");
  },

  async "by the verdict's own tile"(t) {
    const page = await t.open();
    await full(page);
    const worst = page.locator("#verdict [data-act=pick]").first();
    const tile = await worst.getAttribute("data-tile");
    await worst.click();
    await cardSays(page, tile);
  },

  async "the card's peak is the table's"(t) {
    const page = await t.open();
    await full(page);
    const row = rows(await call(page, "tiles"))[700];
    await page.fill("#find", row.tile);
    await page.press("#find", "Enter");
    await cardSays(page, row.tile);
    const shown = (await page.locator("#chain").innerText()).replaceAll(/[\u202f\u00a0,]/g, "");
    matches(shown, new RegExp(`\\b${Math.round(Number(row.peak_surface_k))}`), `the card of ${row.tile} with its peak surface temperature`);
  },

  async "names from a file are text and never markup"(t) {
    const page = await t.open();
    const evil = "<img src=x onerror=alert(1)>";
    same(await load(page, packedTexts(plate([evil, "P-02", "=1+1", "P-04"]))), null, "refusal");
    await page.fill("#find", evil);
    await page.press("#find", "Enter");
    await cardSays(page, evil);
    same(await page.locator("img[src='x']").count(), 0, "images made from a tile's name");
    claim((await call(page, "tiles")).includes("\n'=1+1,"), "a name that begins like a formula is not guarded in tiles()");
  },
};
