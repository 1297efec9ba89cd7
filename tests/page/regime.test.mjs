// What is laminar, transitional and turbulent: at a moment, behind a finding, and as a case of its own.

import { claim, eventually, rows, same } from "./lib/check.mjs";
import { call, full } from "./lib/harness.mjs";

const open = (page, scenario) => page.evaluate((scenario) => window.tileglow.open(scenario), scenario);
/** Tiles by regime, as the scale tells them. */
const counts = (page) =>
  page.$$eval("#scale [data-class] .what span", (spans) => spans.map((span) => Number(span.textContent.replace(/[^0-9]/g, ""))));

export const tests = {
  async "a time transition turns the windward side turbulent at its time"(t) {
    const page = await t.open();
    const scenario = await call(page, "scenario");
    const at = (time_s) => ({ ...scenario, heating: { ...scenario.heating, transition: { kind: "time", time_s: 1100 } }, view: { ...scenario.view, colour: "regime", time_s } });
    await open(page, at(1000));
    await full(page);
    const before = await counts(page);
    same(before[2], 0, "turbulent tiles 100 s before");
    await open(page, at(1105));
    await full(page);
    claim((await counts(page))[1] > 500, "half way through the transition tiles are transitional");
    claim(Number(await page.getAttribute("#scale [data-sensitive]", "data-sensitive")) > 500, "they are told as near onset");
    claim((await page.locator("#stage-svg .near-onset g").count()) > 0, "they are marked on the shield");
    await open(page, at(1200));
    await full(page);
    const after = await counts(page);
    claim(after[2] > 1000, `turbulent tiles 100 s after: ${after}`);
    same(after[0] + after[1] + after[2], before[0] + before[1] + before[2], "tiles in all");
  },

  async "a finding trips a wedge, and the card says which"(t) {
    const page = await t.open();
    const scenario = await call(page, "scenario");
    const belly = rows(await call(page, "tiles")).filter((row) => /belly/.test(row.zone));
    claim(belly.length > 50, "the demonstration has a belly");
    const tile = belly[Math.floor(belly.length / 3)].tile;
    const gouge = (depth_mm) => ({ finding: "T1", tile, kind: "gouge", depth_mm, length_mm: 40, width_mm: 40, found_on: "2031-01-01" });
    const state = (depth_mm) => ({
      ...scenario,
      heating: { ...scenario.heating, transition: { kind: "roughness", criterion: "isolated", limit: 1e6 } },
      findings: [...scenario.findings, gouge(depth_mm)],
      view: { ...scenario.view, colour: "regime", time_s: 1150, tile },
    });
    await open(page, state(0.1));
    await full(page);
    const without = (await counts(page))[2];
    await open(page, state(20));
    await full(page);
    const within = (await counts(page))[2];
    claim(within > without + 5, `turbulent tiles behind the gouge: ${within}, without it ${without}`);
    const card = await page.locator("[data-card='heating']").innerText();
    claim(/Tripped by T1 \(gouge on .* cavity depth/.test(card), `the card's heating says: ${card}`);
    await page.click("[data-more='heating']");
    const row = page.locator("[data-input='heating.threshold:cavity-depth']");
    same(await row.locator("input").inputValue(), "100", "the threshold");
    claim(/2006-2918/.test(await row.innerText()), "its source");
    t.note(`${within - without} tiles turbulent behind a 20 mm gouge on ${tile}`);
  },

  async "early transition is a case beside the entry"(t) {
    const page = await t.open();
    const before = (await call(page, "scenario")).entries;
    await page.click("[data-act='early']");
    await full(page);
    const after = (await call(page, "scenario")).entries;
    same(after.length, before.length + 1, "entries");
    same(after.at(-1).transition, { kind: "mach", mach: 18 }, "its transition");
    same(await page.locator("#entry option").count(), after.length, "entries to choose");
    const governs = new Set(rows(await call(page, "tiles")).map((row) => row.governing_entry));
    claim(governs.has(after.at(-1).name), `governing entries: ${[...governs]}`);
    await eventually(async () => !(await page.locator("[data-act='early']").isVisible()), "the word goes once the case stands");
  },
};
