// A ground test on the page: a case and its traces dropped, compared, fitted, and the fitted material taken over.

import { readFileSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { claim, eventually, matches, rows, same } from "./lib/check.mjs";
import { call, full, native } from "./lib/harness.mjs";
import { drop, packedTexts } from "./lib/vehicles.mjs";

/** A lamp test of a tile on aluminium: three thermocouples. */
const CASE = {
  format: "tileglow-coupon/1", name: "lamp run 7",
  layers: [{ name: "tile", material: "LI-900", thickness_m: 0.03 }, { name: "skin", material: { density_kg_m3: 2770, specific_heat_j_kgk: 875, conductivity_w_mk: 177 }, thickness_m: 0.003 }],
  initial_k: 300, pressure_pa: 101325,
  front: { kind: "temperature", temperature_k: { time_s: [0, 60, 600, 660], value: [300, 1200, 1200, 500] } },
  back: { kind: "adiabatic" }, duration_s: 1200,
  probes: [{ name: "mid", depth_m: 0.015 }, { name: "deep", depth_m: 0.025 }, { name: "skin", depth_m: 0.03 }],
  output_times_s: Array.from({ length: 25 }, (_, i) => 50 * i),
};

/** Traces made from the command's own answer with the tile's conductivity 1.2 times: what a fit must find. */
function traces(folder) {
  const case_ = join(folder, "case.json");
  const made = { ...CASE, layers: [{ ...CASE.layers[0] }, CASE.layers[1]] };
  const library = JSON.parse(readFileSync(new URL("../../assets/materials.json", import.meta.url), "utf8")).materials.find(({ id }) => id === "li-900");
  const times = (node) => (Array.isArray(node) ? node.map(times) : 1.2 * node);
  made.layers[0].material = {
    density_kg_m3: library.density_kg_m3, specific_heat_j_kgk: library.specific_heat_j_kgk,
    conductivity_w_mk: { ...library.conductivity_w_mk, value: times(library.conductivity_w_mk.value) },
  };
  writeFileSync(case_, JSON.stringify(made));
  const result = JSON.parse(native("coupon", case_));
  const header = ["time_s", ...result.probes.map(({ name }) => `${name}_k`)];
  const lines = result.times_s.map((time, i) => [time, ...result.probes.map(({ temperature_k }) => temperature_k[i])].join(","));
  return `${header.join(",")}\n${lines.join("\n")}\n`;
}

const text = (page) => page.locator("#ground").innerText();

export const tests = {
  async "a case and its traces dropped show curves, dots and differences; a fit finds the scale and the material is taken over"(t) {
    const page = await t.open();
    await full(page);
    const before = rows(await call(page, "tiles"));
    await drop(page, packedTexts({ "case.json": JSON.stringify(CASE), "traces.csv": traces(t.folder()) }));
    await eventually(async () => /lamp run 7/.test(await text(page)), "the test on the page");
    same(await page.locator("#tab-ground").getAttribute("aria-selected"), "true", "the tab of the test");
    same(await page.locator("#ground path.fa").count(), 3, "curves");
    same(await page.locator("#ground circle.dot").count(), 3 * CASE.output_times_s.length, "dots");
    await page.click("[data-fit='tile.conductivity']");
    await eventually(async () => /tile: conductivity\s*1\.20\d ×|tile: conductivity\s*1\.19\d ×/.test(await text(page)), "the fitted scale", 60_000);
    const [, scale, low, high] = /([\d.]+) × \(95 % within ([\d.]+) to ([\d.]+)\)/.exec(await text(page)).map(Number);
    claim(Math.abs(scale - 1.2) < 0.01 && low <= scale && scale <= high, `fitted ${scale} (${low} to ${high}) instead of 1.2`);
    await page.click("[data-act=take-ground]");
    await full(page);
    const after = rows(await call(page, "tiles"));
    const moved = after.filter((row, i) => row.material === "li-900-fitted" && before[i].material === "li-900");
    same(moved.length, before.filter((row) => row.material === "li-900").length, "tiles with the fitted material");
    const rise = moved.map((row) => Number(row.peak_bondline_k) - Number(before.find(({ tile }) => tile === row.tile).peak_bondline_k));
    claim(Math.min(...rise.filter(Number.isFinite)) > 0, "a better conductor does not warm every glue line");
    await page.fill("#find", moved[0].tile);
    await page.press("#find", "Enter");
    await page.click("[data-card=limits] details.sources summary");
    matches(await page.locator("[data-card=limits]").innerText(), /ground test "lamp run 7": 1\.\d+ times/, "the source on the card");
  },

  async "a trace without its case, and a case with a mistake, are refused by name and nothing is lost"(t) {
    const page = await t.open();
    const tiles = await call(page, "tiles");
    await drop(page, packedTexts({ "traces.csv": "time_s,mid_k\n0,300\n" }));
    await eventually(async () => /traces\.csv/.test(await page.locator("#refused").innerText()), "the refusal of a trace alone");
    await drop(page, packedTexts({ "case.json": JSON.stringify({ ...CASE, duraton_s: 3 }) }));
    await eventually(async () => /duraton_s/.test(await page.locator("#refused").innerText()), "the refusal of a key");
    same(await call(page, "tiles"), tiles, "tiles() after the refusals");
  },
};
