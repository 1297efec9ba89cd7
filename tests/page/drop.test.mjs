// A vehicle dropped on the page is shown; a broken one is refused with every place named, and the previous one stays.

import { readFileSync } from "node:fs";
import { join } from "node:path";
import { claim, eventually, matches, rows, same } from "./lib/check.mjs";
import { call, full, native, ROOT } from "./lib/harness.mjs";
import { drop, load, packed, packedTexts, plate, zipped } from "./lib/vehicles.mjs";

/** The plate with one of its files changed. */
const plateWith = (name, change) => {
  const files = plate();
  files[name] = change(files[name]);
  return packedTexts(files);
};
const line = (number, text) => (file) => file.split("\n").map((old, i) => (i === number - 1 ? text : old)).join("\n");

/** What is wrong, the files, and what the refusal must say. */
const BROKEN = [
  ["a wrong number", plateWith("tiles.csv", line(3, "P-02,LI-900,thick,plate")), [/tiles\.csv/, /\b3\b|row 2/, /thickness_mm/, /thick/]],
  ["a thickness of zero", plateWith("tiles.csv", line(3, "P-02,LI-900,0,plate")), [/tiles\.csv/, /thickness_mm/, /\b0\b/]],
  ["a NaN", plateWith("tiles.csv", line(3, "P-02,LI-900,NaN,plate")), [/tiles\.csv/, /thickness_mm/, /NaN/]],
  ["an unknown material", plateWith("tiles.csv", line(4, "P-03,LI-9000,30,plate")), [/tiles\.csv/, /material/, /LI-9000/]],
  ["a duplicate id", plateWith("tiles.csv", line(4, "P-02,LI-900,30,plate")), [/tiles\.csv/, /P-02/]],
  ["a row with a cell too few", plateWith("tiles.csv", line(4, "P-03,LI-900")), [/tiles\.csv/, /4|row 3/]],
  ["a tile without surface", plateWith("tiles.csv", (text) => `${text}P-99,LI-900,30,plate\n`), [/P-99/]],
  ["a surface without a tile", plateWith("tiles.csv", (text) => text.replace(/P-06.*\n/, "")), [/P-06/]],
  ["a NaN in the mesh", plateWith("vehicle.obj", (text) => text.replace(/^v .*$/m, "v nan 0 0")), [/vehicle\.obj/, /nan/i]],
  ["a face beyond the vertices", plateWith("vehicle.obj", (text) => text.replace(/^f .*$/m, "f 1 2 999")), [/vehicle\.obj/, /999/]],
  ["no table", packedTexts({ "vehicle.obj": plate()["vehicle.obj"] }), [/tiles\.csv/]],
  ["no mesh", packedTexts({ "tiles.csv": plate()["tiles.csv"] }), [/vehicle\.(glb|obj)/]],
  ["a GLB that is none", packedTexts({ "vehicle.glb": "glTF but not really" }), [/vehicle\.glb/]],
  ["a picture", packedTexts({ "photo.png": "\u0089PNG" }), [/photo\.png|vehicle/]],
  ["twelve wrong rows", plateWith("tiles.csv", (text) => text + Array.from({ length: 12 }, (_, i) => `Q-${i},LI-900,-${i + 1},plate\n`).join("")), [/\b1\d\b/]],
];

export const tests = {
  async "a good vehicle is shown and assessed"(t) {
    const page = await t.open();
    await drop(page, packedTexts(plate()));
    await eventually(async () => rows(await call(page, "tiles")).length === 6, "tiles() has the six tiles");
    await full(page);
    same(rows(await call(page, "tiles")).map((row) => row.tile), ["P-01", "P-02", "P-03", "P-04", "P-05", "P-06"], "the tiles");
    claim(rows(await call(page, "tiles")).every((row) => Number(row.peak_surface_k) > 300), "a tile stays cold");
    claim(!(await page.locator("#refused").isVisible()), "something was refused");
  },

  async "the demonstration as a zip of its folder gives the same numbers"(t) {
    const page = await t.open();
    const tiles = await call(page, "tiles");
    const demo = join(t.folder(), "demo");
    native("demo", demo);
    const inside = packed(demo).map((file) => ({ ...file, name: `demo/${file.name}` }));
    // Another vehicle in between, so that keeping the old one would be seen.
    await drop(page, packedTexts(plate()));
    await eventually(async () => rows(await call(page, "tiles")).length === 6, "the plate is open");
    await drop(page, [zipped("demo.zip", inside)]);
    await eventually(async () => rows(await call(page, "tiles")).length > 2000, "the zip is open", 30_000);
    claim(!(await page.locator("#refused").isVisible()), "something was refused");
    same(await call(page, "tiles"), tiles, "tiles() of the zip");
  },

  async "a GLB and an OBJ of a general-purpose library are shown and assessed, as the command does"(t) {
    const page = await t.open();
    const foreign = join(ROOT, "tests", "data", "foreign");
    for (const name of ["hemisphere_glb", "hemisphere_obj"]) {
      await drop(page, packed(join(foreign, name)));
      await eventually(async () => rows(await call(page, "tiles")).length === 1 + 15 * 24, `${name} is open`);
      claim(!(await page.locator("#refused").isVisible()), `${name}: something was refused`);
      const out = join(t.folder(), "out");
      native("assess", "--vehicle", join(foreign, name), "--out", out);
      same(await call(page, "tiles"), readFileSync(join(out, "tiles.csv"), "utf8"), `tiles() of ${name} against the command`);
    }
    await drop(page, [{ name: "features.glb", base64: readFileSync(join(foreign, "features.glb")).toString("base64") }]);
    const out = join(t.folder(), "out");
    native("assess", "--vehicle", join(foreign, "features.glb"), "--out", out);
    const wanted = readFileSync(join(out, "tiles.csv"), "utf8");
    await eventually(async () => (await call(page, "tiles")) === wanted, "tiles() of features.glb, one file, are the command's");
  },

  async "a broken one is refused in its place, the previous stays, and the words can be sent away"(t) {
    const page = await t.open();
    const tiles = await call(page, "tiles");
    await drop(page, plateWith("tiles.csv", line(3, "P-02,LI-900,thick,plate")));
    const refused = page.locator("#refused");
    await eventually(() => refused.isVisible(), "the refusal is shown");
    const text = await refused.innerText();
    for (const part of [/tiles\.csv/, /\b3\b|row 2/, /thickness_mm/, /thick\b/]) matches(text, part, "the refusal");
    same(await refused.getAttribute("role"), "alert", "the refusal's role");
    same(await call(page, "tiles"), tiles, "tiles() after the refusal");
    await page.click("[data-act=dismiss]");
    await eventually(async () => !(await refused.isVisible()), "the refusal is gone");
  },

  async "each kind of mistake gets its message, and nothing is half-loaded"(t) {
    const page = await t.open();
    const [tiles, scenario] = [await call(page, "tiles"), await call(page, "scenario")];
    const wrong = [];
    for (const [name, files, patterns] of BROKEN) {
      const refusal = await load(page, files);
      if (refusal === null) wrong.push(`${name}: accepted`);
      else if (refusal.length > 4000) wrong.push(`${name}: ${refusal.length} characters`);
      else for (const pattern of patterns) if (!pattern.test(refusal)) wrong.push(`${name}: ${pattern} is not in ${JSON.stringify(refusal.slice(0, 300))}`);
      if ((await call(page, "tiles")) !== tiles) wrong.push(`${name}: the previous vehicle did not stay`);
    }
    same(wrong, [], "mistakes without their message");
    same(await call(page, "scenario"), scenario, "the scenario after the refusals");
  },
};
