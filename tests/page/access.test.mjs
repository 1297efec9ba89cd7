// Accessibility by axe-core: no serious or critical finding, in both themes, wide and narrow, with the table open.

import { readFileSync } from "node:fs";
import { same } from "./lib/check.mjs";
import { drawn, full } from "./lib/harness.mjs";
import { toolFile } from "./lib/tools.mjs";

const AXE = readFileSync(toolFile("axe-core/axe.min.js"), "utf8");

async function findings(page) {
  await page.evaluate(AXE);
  const { violations } = await page.evaluate(() => window.axe.run(document, { resultTypes: ["violations"] }));
  return violations
    .filter(({ impact }) => impact === "serious" || impact === "critical")
    .map(({ id, impact, nodes }) => `${impact} ${id}: ${nodes.length} × ${nodes[0].target} (${(nodes[0].any[0] ?? nodes[0].all[0] ?? nodes[0].none[0])?.message ?? ""})`);
}

const check = (options, then) => async (t) => {
  const page = await t.open(options);
  await full(page);
  await then?.(page);
  await drawn(page);
  same(await findings(page), [], "serious and critical findings");
};

export const tests = {
  "light, wide": check({}),
  "dark, wide": check({ dark: true }),
  "light, narrow": check({ width: 390, height: 844 }),
  "the table": check({}, (page) => page.click("#tab-table")),
  "temperature, US units": check({}, async (page) => {
    await page.click("[data-colour='surface']");
    await page.click("[data-act=units]");
  }),
};
