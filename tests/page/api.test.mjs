// window.tileglow does what FORMATS.md, "Scripting the page", says.

import { createHash } from "node:crypto";
import { claim, differ, matches, rows, same } from "./lib/check.mjs";
import { readFileSync } from "node:fs";
import { join } from "node:path";
import { call, drawn, native, ROOT } from "./lib/harness.mjs";
import { open } from "./lib/vehicles.mjs";

const { materials } = JSON.parse(readFileSync(join(ROOT, "assets", "materials.json"), "utf8"));

/** The emissivity of a tile's face by the library: of its coating, of its material where it has none; linear between its points. */
function emissivity({ material, coating }, kelvin) {
  const id = (coating === "none" ? material : coating).toLowerCase();
  const found = materials.find((one) => one.id === id)?.emissivity;
  if (typeof found === "number") return found;
  claim(found, `the library has no emissivity of ${id}`);
  const { temperature_k: at, value } = found;
  const i = Math.min(Math.max(at.findIndex((t) => t > kelvin), 1), at.length - 1);
  const last = kelvin >= at.at(-1);
  const share = last ? 1 : Math.min(Math.max((kelvin - at[i - 1]) / (at[i] - at[i - 1]), 0), 1);
  return last ? value.at(-1) : value[i - 1] + share * (value[i] - value[i - 1]);
}

export const tests = {
  async "the version is the command's"(t) {
    const page = await t.open();
    same(await page.evaluate(() => window.tileglow.version), native("--version").trim().replace(/^tileglow /, ""), "tileglow.version, bare");
  },

  async "the scenario writes every default out and opens again to the same"(t) {
    const page = await t.open();
    const before = await call(page, "scenario");
    same(before.format, "tileglow-scenario/1", "format");
    for (const key of ["vehicle", "entries", "heating", "start", "landing", "policy", "sizing", "changes", "findings", "view", "note"]) claim(key in before, `scenario() lacks \`${key}\``);
    matches(before.vehicle.digest, /^[0-9a-f]{64}$/, "vehicle.digest");
    const tiles = await call(page, "tiles");
    same(await open(page, before), null, "the refusal of its own scenario");
    same(await call(page, "scenario"), before, "the scenario after opening it");
    same(await call(page, "tiles"), tiles, "tiles() after opening the same scenario");
  },

  async "another heating scale gives other results, and the old ones come back"(t) {
    const page = await t.open();
    const scenario = await call(page, "scenario");
    const tiles = await call(page, "tiles");
    same(await open(page, { ...scenario, heating: { ...scenario.heating, scale: 1.3 } }), null, "the refusal");
    const hotter = await call(page, "tiles");
    differ(hotter, tiles, "tiles()");
    const peak = (csv) => rows(csv).map((row) => Number(row.peak_surface_k));
    const [a, b] = [peak(tiles), peak(hotter)];
    claim(a.every((value, i) => b[i] > value), "30 % more heating must warm every tile");
    // What a tile radiates, emissivity times T^4, follows the heating; the hot-wall correction only takes some of it back.
    // Temperatures are written to 1 mK, of 200 K and more.
    const table = rows(tiles);
    const radiated = (value, i) => emissivity(table[i], value) * value ** 4;
    const beyond = a.flatMap((value, i) => (radiated(b[i], i) <= 1.3 * radiated(value, i) * (1 + 2e-5) ? [] : [`${table[i].tile} ${table[i].material}: ${value} to ${b[i]} K`]));
    same(beyond, [], "tiles that radiate more than 1.3 times what they did");
    same(await open(page, scenario), null, "the refusal");
    same(await call(page, "tiles"), tiles, "tiles() after going back");
  },

  async "a scenario that cannot be is refused with the path and the accepted, and nothing changes"(t) {
    const page = await t.open();
    const scenario = await call(page, "scenario");
    const tiles = await call(page, "tiles");
    const cases = [
      [{ ...scenario, format: "tileglow-scenario/9" }, /tileglow-scenario\/9/],
      [{ ...scenario, heatng: {} }, /heatng/],
      [{ ...scenario, heating: { ...scenario.heating, scale: "hot" } }, /heating\.scale/],
      [{ ...scenario, heating: { ...scenario.heating, scale: -1 } }, /heating\.scale/],
      [{ ...scenario, changes: [{ tiles: ["no such tile"], set: { emissivity: 0.8 } }] }, /no such tile/],
      [{ ...scenario, changes: [{ zone: scenario.changes.length ? "x" : "belly", set: { emissivity: 3 } }] }, /emissivity/],
      ["not an object", /./],
      [null, /./],
    ];
    for (const [bad, pattern] of cases) {
      const refusal = await open(page, bad);
      claim(refusal !== null, `opened without a word: ${JSON.stringify(bad)?.slice(0, 80)}`);
      matches(refusal, pattern, "the refusal");
      same(await call(page, "scenario"), scenario, "the scenario after a refusal");
    }
    same(await call(page, "tiles"), tiles, "tiles() after the refusals");
  },

  async "the summary's digest of results is that of the bytes of tiles()"(t) {
    const page = await t.open();
    const tiles = await call(page, "tiles");
    const summary = await call(page, "summary");
    same(summary.format, "tileglow-summary/1", "format");
    claim(JSON.stringify(summary).includes(createHash("sha256").update(tiles).digest("hex")), "summary() does not carry the digest of tiles()");
  },

  async "tileAt names the tile under a point of the picture, and null off the shield"(t) {
    const page = await t.open();
    await drawn(page);
    const box = await page.locator("#shield").boundingBox();
    const names = new Set(rows(await call(page, "tiles")).map((row) => row.tile));
    const points = Array.from({ length: 39 * 23 }, (_, k) => [(box.width * (1 + (k % 39))) / 40, (box.height * (1 + Math.floor(k / 39))) / 24]);
    const found = new Set(await page.evaluate((all) => all.map(([x, y]) => window.tileglow.tileAt(x, y)), points));
    claim(found.has(null), "no point of the picture is off the shield");
    found.delete(null);
    claim(found.size > 50, `only ${found.size} tiles found on a grid over the picture`);
    for (const name of found) claim(names.has(name), `tileAt gave ${JSON.stringify(name)}, which is no tile`);
    const middle = [box.width / 2, box.height / 2];
    claim((await call(page, "tileAt", ...middle)) !== null, "no tile in the middle of the picture");
    same(await page.evaluate(([x, y]) => [[NaN, y], [x, NaN], [], ["x", y], [Infinity, y]].map((at) => window.tileglow.tileAt(...at)), middle), [null, null, null, null, null], "tileAt of what is no point");
    // Come close: the shield reaches beyond every side of the picture, and no tile is told there.
    await page.focus("#shield");
    for (let i = 0; i < 12; i += 1) await page.keyboard.press("+");
    await drawn(page);
    claim((await call(page, "tileAt", ...middle)) !== null, "no tile in the middle of the enlarged picture");
    const beside = [[-3, middle[1]], [box.width + 3, middle[1]], [middle[0], -3], [middle[0], box.height + 3]];
    for (const [x, y] of beside) same(await call(page, "tileAt", x, y), null, `tileAt(${x}, ${y}), beside the picture`);
  },
};
