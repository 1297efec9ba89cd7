// The table says the same as the picture: all tiles, sortable, reachable by keyboard, picking.

import { claim, eventually, rows, same } from "./lib/check.mjs";
import { call, drawn, full } from "./lib/harness.mjs";

async function shown(page) {
  await page.click("#tab-table");
  await page.waitForSelector("#table tr[data-tile]");
  return page.$$eval("#table tr[data-tile]", (lines) => lines.map((line) => line.dataset.tile));
}

export const tests = {
  async "it sorts by a column, up and down"(t) {
    const page = await t.open();
    await full(page);
    await shown(page);
    const csv = rows(await call(page, "tiles"));
    const keys = await page.$$eval("#table th button[data-sort]", (buttons) => buttons.map((button) => button.dataset.sort));
    claim(keys.length >= 4, `only ${keys.length} columns sort: ${keys}`);
    const key = keys.find((key) => key in csv[0] && csv.every((row) => row[key] === "" || Number.isFinite(Number(row[key]))) && new Set(csv.map((row) => row[key])).size > 100);
    claim(key, `no sortable column is a number column of tiles.csv: ${keys}`);
    const value = new Map(csv.map((row) => [row.tile, row[key] === "" ? null : Number(row[key])]));
    const seen = [];
    for (let press = 0; press < 2; press += 1) {
      await page.click(`#table th button[data-sort='${key}']`);
      await drawn(page);
      const order = (await page.$$eval("#table tr[data-tile]", (lines) => lines.map((line) => line.dataset.tile))).map((tile) => value.get(tile)).filter((v) => v !== null);
      const up = order.every((v, i) => i === 0 || v >= order[i - 1]);
      const down = order.every((v, i) => i === 0 || v <= order[i - 1]);
      claim(up || down, `sorted by ${key} the rows are neither rising nor falling: ${order.slice(0, 8)}`);
      same(order[0], (up ? Math.min : Math.max)(...[...value.values()].filter((v) => v !== null)), `the first row sorted by ${key}`);
      seen.push(up ? "up" : "down");
      same(await page.$eval(`#table th:has(button[data-sort='${key}'])`, (th) => th.getAttribute("aria-sort")), up ? "ascending" : "descending", "aria-sort");
    }
    same([...seen].sort(), ["down", "up"], "the two orders");
  },

  async "a row picks its tile, by keyboard too"(t) {
    const page = await t.open();
    const tiles = await shown(page);
    const line = page.locator("#table tr[data-tile]").nth(3);
    await line.click();
    await eventually(async () => (await call(page, "scenario")).view.tile === tiles[3], "the clicked row's tile is picked");
    await page.keyboard.press("ArrowDown");
    await page.keyboard.press("Enter");
    await eventually(async () => (await call(page, "scenario")).view.tile === tiles[4], "the next row's tile is picked by arrow and Enter");
  },

  async "every tile is in it"(t) {
    const page = await t.open();
    const all = rows(await call(page, "tiles")).length;
    const tiles = await shown(page);
    const told = await page.$eval("#table", (place) => Number((place.matches("[aria-rowcount]") ? place : place.querySelector("[aria-rowcount]"))?.getAttribute("aria-rowcount") ?? NaN));
    claim(tiles.length === all || told === all + 1 || told === all, `the table holds ${tiles.length} rows and tells ${told}; the vehicle has ${all} tiles`);
  },
};
