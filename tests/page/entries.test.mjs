// The trajectory room: the set of entries edited and undone, flights and atmospheres dropped, the corridor by keyboard, reversals.

import { claim, differ, eventually, matches, same } from "./lib/check.mjs";
import { call, full } from "./lib/harness.mjs";
import { drop, packedTexts } from "./lib/vehicles.mjs";

const names = async (page) => (await call(page, "scenario")).entries.map((entry) => entry.name);
const SET = ["nominal", "steep", "shallow", "heavy", "abort"];
const act = (page, name) => page.locator(`[data-room=${name}]`).first().click();
const flown = (change = (row) => row) =>
  ["speed_ft_s,angle_of_attack_deg,time_min,altitude_nmi", ...Array.from({ length: 40 }, (_, i) => change([24000 - 500 * i, 40, i, 45 - i], i).join(","))].join("\n") + "\n";

export const tests = {
  async "the set is copied, renamed, moved, removed, and undone"(t) {
    const page = await t.open();
    same(await names(page), SET, "the demonstration's set");
    await act(page, "open");
    await act(page, "copy");
    await eventually(async () => (await names(page)).length === 6, "the copy stands");
    same((await names(page))[1], "nominal 2", "the copy's name");
    await page.locator("#entry-name").fill("low drag");
    await page.locator("#entry-name").press("Enter");
    await eventually(async () => (await names(page))[1] === "low drag", "the new name stands");
    await page.locator("#entry-name").fill("steep");
    await page.locator("#entry-name").press("Enter");
    await eventually(async () => /already/.test(await page.locator("#room [role=alert]").textContent()), "a name twice is refused in words");
    await act(page, "up");
    await eventually(async () => (await names(page))[0] === "low drag", "it moved to the front");
    await act(page, "remove");
    await eventually(async () => (await names(page)).length === 5, "it is gone");
    for (let i = 0; i < 4; i += 1) await page.locator("[data-act=undo]").click();
    await eventually(async () => (await names(page)).join() === SET.join(), "undone, the set is as it was");
  },

  async "a flight flown elsewhere joins the set; a broken one is refused and the last stays"(t) {
    const page = await t.open();
    await drop(page, packedTexts({ "Flight 7.csv": flown() }));
    await eventually(async () => (await names(page)).at(-1) === "Flight 7", "the flight has joined");
    await full(page);
    const inside = (await call(page, "scenario")).entries.at(-1).entry;
    claim(Math.abs(inside.altitude_m[0] - 45 * 1852) < 1e-6 && Math.abs(inside.speed_m_s[0] - 24000 * 0.3048) < 1e-6 && inside.time_s[1] === 60, "units of the header");
    const broken = [
      ["backward", flown((row, i) => (i === 9 ? [row[0], row[1], 3, row[3]] : row)), [/row 11/, /time_min/, /increasing/]],
      ["nan", flown((row, i) => (i === 4 ? ["NaN", ...row.slice(1)] : row)), [/row 6/, /speed_ft_s/, /NaN/]],
      ["gap", flown((row, i) => (i > 30 ? [row[0], "", ...row.slice(2)] : row)), [/row 33/, /angle_of_attack_deg/, /empty/]],
    ];
    for (const [name, text, said] of broken) {
      await drop(page, packedTexts({ [`${name}.csv`]: text }));
      await page.locator("#refused").waitFor({ state: "visible" });
      const told = await page.locator("#refused").textContent();
      for (const part of said) matches(told, part, name);
      same((await names(page)).length, 6, `${name}: the set`);
      await page.locator("[data-act=dismiss]").click();
      // A refusal is taken off with the next frame; before it the words of this one would be read for those of the next file.
      await page.locator("#refused").waitFor({ state: "hidden" });
    }
  },

  async "an entry that skips out is refused with its reason, and the last good state stays"(t) {
    const page = await t.open();
    const scenario = await call(page, "scenario");
    const before = await call(page, "tiles");
    const entry = { ...scenario.entries[0].entry, heading_deg: 80, speed_m_s: 7600, bank_deg: 0, angle_of_attack_deg: { time_s: [0, 100], value: [42, 40] } };
    await drop(page, packedTexts({ "skip.json": JSON.stringify(entry) }));
    await page.locator("#refused").waitFor({ state: "visible" });
    matches(await page.locator("#refused").textContent(), /skips out|never enters|rises above/, "the reason");
    same(await names(page), SET, "the set");
    same(await call(page, "tiles"), before, "the results");
  },

  async "a plan that ends early is told, and an atmosphere's table flies the entry shown"(t) {
    const page = await t.open();
    const scenario = await call(page, "scenario");
    const entry = { ...scenario.entries[0].entry, angle_of_attack_deg: { time_s: [0, 900], value: [42, 40] } };
    await drop(page, packedTexts({ "early.json": JSON.stringify(entry) }));
    await eventually(async () => (await names(page)).at(-1) === "early", "the entry has joined");
    await full(page);
    matches(JSON.stringify((await call(page, "summary")).warnings), /early.*angle_of_attack_deg ends early/, "the warning");
    const air = "pressure_kPa,altitude_km,temperature_degC\n101.325,0,15\n0.0002,90,-86\n0.00001,120,80\n";
    await drop(page, packedTexts({ "hot day.csv": air }));
    await eventually(async () => (await call(page, "scenario")).entries.at(-1).entry.atmosphere.kind === "table", "the table is flown through");
    same((await call(page, "scenario")).entries.at(-1).entry.atmosphere.altitude_m, [0, 90000, 120000], "altitudes");
  },

  async "the corridor's moment follows the keyboard, and the relations stand side by side"(t) {
    const page = await t.open();
    await act(page, "open");
    const cursor = page.locator("#corridor-moment");
    await cursor.focus();
    const before = await cursor.getAttribute("aria-valuenow");
    await page.keyboard.press("PageUp");
    await eventually(async () => (await cursor.getAttribute("aria-valuenow")) !== before, "the cursor moved");
    same(await page.locator("#moment").getAttribute("aria-valuenow"), await cursor.getAttribute("aria-valuenow"), "the ribbon's moment");
    claim((await page.locator("#corridor .bound").count()) >= 6, "lines of constant heating, load factor and dynamic pressure");
    same(await page.locator("#corridor .other").count(), 4, "the other entries");
    matches(await page.locator("#sides-said").textContent(), /Sutton and Graves.*Detra, Kemp and Riddell.*Fay and Riddell.*spread/, "side by side");
    await page.keyboard.press("Escape");
    await eventually(async () => !(await page.locator("#room").isVisible()), "Escape closes the room");
  },

  async "a reversal is added, moved and taken away"(t) {
    const page = await t.open();
    const bank = async () => (await call(page, "scenario")).entries[0].entry.bank_deg.value;
    const count = async () => page.locator("#flight [data-reversal]").count();
    const [start, plan] = [await count(), await bank()];
    await page.locator("#moment").focus();
    await page.keyboard.press("Home");
    for (let i = 0; i < 12; i += 1) await page.keyboard.press("PageUp");
    await act(page, "reverse");
    await eventually(async () => (await count()) === start + 1, "one more reversal");
    differ(await bank(), plan, "the plan");
    const handle = page.locator("#flight [data-reversal]").last();
    const at = await handle.getAttribute("aria-valuenow");
    await handle.focus();
    await page.keyboard.press("ArrowRight");
    await eventually(async () => (await page.locator("#flight [data-reversal]").last().getAttribute("aria-valuenow")) !== at, "it moved along the flight");
    await page.keyboard.press("Delete");
    await eventually(async () => (await count()) === start, "it is gone");
  },
};
