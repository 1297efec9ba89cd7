// Picture and scale agree: a tile's pixels have the colour that the legend gives its value.

import { claim, rows } from "./lib/check.mjs";
import { call, drawn, full } from "./lib/harness.mjs";
import { apart, fromHex, hex, picture } from "./lib/picture.mjs";

/** The legend as the page tells it: value ranges with their colours, in SI. */
const legend = (page) =>
  page.$$eval("#scale [data-legend]", (bands) =>
    bands.map((band) => ({ low: Number(band.dataset.low), high: Number(band.dataset.high), colour: band.dataset.colourHex })));

/** Points in the middle of tiles: the tile is the same 2 px around and so is the colour. */
async function middles(page, shot, wanted) {
  const box = await page.locator("#shield").boundingBox();
  const points = [];
  for (let y = box.y + 8; y < box.y + box.height - 8; y += 6) for (let x = box.x + 8; x < box.x + box.width - 8; x += 6) points.push([Math.round(x), Math.round(y)]);
  const even = points.filter(([x, y]) => {
    const middle = shot.at(x, y);
    for (let dy = -2; dy <= 2; dy += 1) for (let dx = -2; dx <= 2; dx += 1) if (apart(shot.at(x + dx, y + dy), middle) > 0) return false;
    return true;
  });
  const names = await page.evaluate(([points, left, top]) => {
    const at = (x, y) => window.tileglow.tileAt(x - left, y - top);
    // Words lie over the picture: the list and the tabs as elements of their own, the numbers of tiles as text that no pointer meets.
    const words = [...document.querySelectorAll("#stage-svg text")].map((text) => text.getBoundingClientRect());
    const bare = (x, y) => document.elementFromPoint(x, y)?.id === "shield" && !words.some((w) => x > w.left - 5 && x < w.right + 5 && y > w.top - 5 && y < w.bottom + 5);
    return points.map(([x, y]) => {
      const name = at(x + 0.5, y + 0.5);
      return bare(x, y) && [[-2, 0], [2, 0], [0, -2], [0, 2]].every(([dx, dy]) => at(x + 0.5 + dx, y + 0.5 + dy) === name) ? name : null;
    });
  }, [even, box.x, box.y]);
  const found = new Map();
  even.forEach(([x, y], i) => {
    if (names[i] !== null && !found.has(names[i])) found.set(names[i], { x, y, colour: shot.at(x, y) });
  });
  claim(found.size >= wanted, `only ${found.size} tiles have a plain middle in the picture, ${wanted} are needed`);
  return found;
}

async function agree(t, page, column, wanted) {
  await full(page);
  await page.mouse.move(1, 1);
  await drawn(page);
  const bands = (await legend(page)).sort((a, b) => a.low - b.low);
  claim(bands.length >= 2, `the legend has ${bands.length} bands`);
  const value = new Map(rows(await call(page, "tiles")).map((row) => [row.tile, row[column] === "" ? null : Number(row[column])]));
  const found = await middles(page, await picture(page), wanted);
  const used = new Set();
  for (const [tile, { x, y, colour }] of found) {
    const v = value.get(tile);
    if (v === null) continue;
    const i = Math.max(0, bands.findLastIndex((band) => band.low <= v));
    const near = bands.slice(Math.max(0, i - 1), i + 2).map((band) => fromHex(band.colour));
    // A continuous ramp passes between its neighbours' colours; a band has one colour. Never further off than that.
    const own = fromHex(bands[i].colour);
    const room = Math.max(1, ...near.map((other) => apart(own, other)));
    claim(apart(colour, own) <= Math.min(room, 24), `tile ${tile} at ${x}, ${y} with ${column} ${v} is ${hex(colour)}, the legend says ${bands[i].colour} (${bands[i].low} to ${bands[i].high})`);
    used.add(i);
  }
  claim(used.size >= 3, `the tiles seen use only ${used.size} of the legend's ${bands.length} bands`);
  t.note(`${found.size} tiles compared over ${used.size} of ${bands.length} legend steps`);
}

export const tests = {
  async "margin"(t) {
    const page = await t.open();
    await agree(t, page, "margin_k", 60);
  },

  async "peak surface temperature"(t) {
    const page = await t.open();
    await page.click("[data-colour='surface']");
    await agree(t, page, "peak_surface_k", 60);
  },

  async "margin in the dark theme: the same colours"(t) {
    const page = await t.open({ dark: true });
    await agree(t, page, "margin_k", 60);
  },
};
