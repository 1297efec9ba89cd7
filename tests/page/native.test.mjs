// The browser's numbers are the command's, byte for byte.

import { readFileSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { claim, same } from "./lib/check.mjs";
import { call, native } from "./lib/harness.mjs";
import { load, open, packed, plate, written } from "./lib/vehicles.mjs";

/** The command's tiles.csv and summary for a scenario as the page holds it. */
function assessed(t, scenario, vehicle) {
  const folder = t.folder();
  writeFileSync(join(folder, "scenario.json"), JSON.stringify(scenario));
  const out = join(folder, "out");
  native("assess", ...(vehicle ? ["--vehicle", vehicle] : []), "--scenario", join(folder, "scenario.json"), "--out", out);
  return { tiles: readFileSync(join(out, "tiles.csv"), "utf8"), summary: JSON.parse(readFileSync(join(out, "summary.json"), "utf8")) };
}

const timeless = ({ elapsed_s: _, ...rest }) => rest;

/** Variants of the demonstration over one entry, those that `wanted` names, page against command. */
async function variants(t, wanted) {
  const page = await t.open();
  const opened = await call(page, "scenario");
  const entry = opened.entries[0];
  // One entry where the variant is about something else: every tile is solved in depth over each.
  const base = { ...opened, entries: [entry] };
  const heating = base.heating;
  const changes = {
    "transition by Mach number": { heating: { ...heating, transition: { kind: "mach", mach: 12 } } },
    "transition by time": { heating: { ...heating, transition: { kind: "time", time_s: 700 } } },
    "transition by momentum thickness": { heating: { ...heating, transition: { kind: "momentum-thickness", limit: 300 } } },
    "other scale and lee fraction": { heating: { ...heating, scale: 0.83, lee_fraction: 0.05 } },
    "single mission, terms": { policy: { limits: "single-mission", combine: "sum", terms: [{ name: "heating", fraction: 0.1, level_sigma: 3 }] } },
    "two entries": { entries: [entry, { ...entry, name: "steep", entry: entry.entry.flight_path_deg === undefined ? entry.entry : { ...entry.entry, flight_path_deg: entry.entry.flight_path_deg - 0.2 } }] },
    "sideslip": entry.entry.sideslip_deg === undefined ? {} : { entries: [{ ...entry, entry: { ...entry.entry, sideslip_deg: 3 } }] },
  };
  for (const [name, change] of Object.entries(changes).filter(([name]) => wanted(name))) {
    const scenario = { ...base, ...change };
    same(await open(page, scenario), null, `${name}: refusal`);
    same(await call(page, "tiles"), assessed(t, scenario).tiles, `${name}: tiles()`);
  }
}

export const tests = {
  async "the demonstration"(t) {
    const page = await t.open();
    const out = join(t.folder(), "out");
    native("assess", "--out", out);
    same(await call(page, "tiles"), readFileSync(join(out, "tiles.csv"), "utf8"), "tiles() of the page as opened, against the command without options");
    const { tiles, summary } = assessed(t, await call(page, "scenario"));
    same(await call(page, "tiles"), tiles, "tiles() against the command with the page's scenario");
    same(timeless(await call(page, "summary")), timeless(summary), "summary() without its times");
  },

  async "scenarios that take every part of the engine: transition"(t) {
    await variants(t, (name) => name.startsWith("transition"));
  },

  async "scenarios that take every part of the engine: factors, limits, entries, sideslip"(t) {
    await variants(t, (name) => !name.startsWith("transition"));
  },

  async "a vehicle of the user's own, as a folder's files"(t) {
    const page = await t.open();
    const folder = written(join(t.folder(), "plate"), plate());
    same(await load(page, packed(folder)), null, "refusal");
    const { tiles } = assessed(t, await call(page, "scenario"), folder);
    same(await call(page, "tiles"), tiles, "tiles()");
    same(tiles.trimEnd().split("\n").length, 7, "lines of tiles.csv");
  },

  async "the demonstration written out by the command and dropped back in"(t) {
    const page = await t.open();
    const before = await call(page, "tiles");
    const folder = join(t.folder(), "demo");
    native("demo", folder);
    const vehicle = packed(folder).filter(({ name }) => name !== "scenario.json");
    claim(vehicle.some(({ name }) => name === "vehicle.glb"), "the demonstration has no vehicle.glb");
    same(await load(page, vehicle), null, "refusal");
    same(await call(page, "tiles"), before, "tiles() of the same vehicle from its files");
  },
};
