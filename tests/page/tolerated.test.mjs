// What the tiles tolerate is worked out when its colour is asked for, said to be a bound, solved for the picked tile, and dropped when an input
// moves; the tables of what findings do are saved once every finding is solved.

import { claim, eventually, matches, same } from "./lib/check.mjs";
import { call, drawn, full } from "./lib/harness.mjs";
import { load, packedTexts, plate } from "./lib/vehicles.mjs";

async function opened(t, extra = {}) {
  const page = await t.open();
  same(await load(page, packedTexts({ ...plate(), ...extra })), null, "refusal");
  await full(page);
  return page;
}

const cells = (page) => page.$$eval("#tolerated tr", (rows) => rows.slice(1).map((row) => [...row.querySelectorAll("td")].map((cell) => cell.textContent)));
const solved = (page) => eventually(async () => {
  const rows = await cells(page);
  return rows.length === 2 && !rows.flat().includes("not yet") && rows;
}, "the picked tile by radius and depth", 90_000);

export const tests = {
  async "the colour says what it is of, the card sets the bound beside what is solved, and another length is asked anew"(t) {
    const page = await opened(t);
    await page.fill("#find", "P-06");
    await page.press("#find", "Enter");
    same(await page.locator("#tolerated").count(), 0, "blocks before it is asked for");
    await page.click("[data-colour='tolerated-depth']");
    await drawn(page);
    same(await page.getAttribute("body", "data-colour"), "tolerated-depth", "the colour");
    matches(await page.locator("#scale .about").innerText(), /full-area bound/, "what the scale says");
    const first = await solved(page);
    const number = (text) => (/^(none|—)/.test(text) ? 0 : Number(text.replace(/^\D*/, "").split(/[^\d.]/)[0]));
    for (const [bound, own] of first) claim(number(own) >= number(bound), `the bound says ${bound}, solved ${own}`);
    const before = await call(page, "tiles");
    const length = page.locator("[data-cavity=length]");
    await length.fill("none");
    await length.press("Enter");
    same(await length.inputValue(), "50.0", "the field after a word");
    await length.fill("20");
    await length.press("Enter");
    await eventually(async () => (await call(page, "scenario")).view.cavity.length_mm === 20, "view.cavity");
    await eventually(async () => /20/.test(await page.locator("#tolerated th[scope=row]").first().innerText()), "the block of the new length");
    const second = await solved(page);
    claim(number(second[0][1]) >= number(first[0][1]), `of 50 mm ${first[0][1]}, of 20 mm ${second[0][1]}`);
    same(await call(page, "tiles"), before, "tiles() of another view");
    await page.click("[data-colour='tolerated-length']");
    await drawn(page);
    same(await page.inputValue("[data-cavity=depth]"), "10.0", "the depth asked of");
    await page.click("[data-colour='margin']");
    await eventually(async () => (await page.locator("#tolerated").count()) === 0, "no block beside another colour");
  },

  async "damage.csv and present.csv are saved once every finding is solved, and the card judges the tile by them"(t) {
    const findings = "finding,tile,kind,length_mm,width_mm,depth_mm,flight,note\nD1,P-01,gouge,40,20,18,1,=1+1\nD2,P-02,chip,8,8,2,1,\nD3,P-03,contamination,,,,1,\n";
    const page = await opened(t, { "findings.csv": findings });
    await page.fill("#find", "P-01");
    await page.press("#find", "Enter");
    await eventually(async () => /Condition by the margins with its findings/.test(await page.locator(".withs").first().innerText()), "the condition with the finding", 90_000);
    await page.click("#tab-findings");
    const saved = async (act) => {
      const [download] = await Promise.all([page.waitForEvent("download", { timeout: 120_000 }), page.click(`[data-act=${act}]`)]);
      const chunks = [];
      for await (const chunk of await download.createReadStream()) chunks.push(chunk);
      return [download.suggestedFilename(), Buffer.concat(chunks).toString().trimEnd().split("\n")];
    };
    const [name, damage] = await saved("save-damage");
    same([name, damage.length], ["damage.csv", 4], "the table of findings");
    claim(/^D1,P-01,gouge,yes,cavity,\d/.test(damage[1]), `the gouge's row: ${damage[1]}`);
    claim(/^D3,P-03,contamination,yes,none,,/.test(damage[3]), `the contamination's row: ${damage[3]}`);
    const [other, present] = await saved("save-present");
    same([other, present.length, present[1].split(",")[0]], ["present.csv", 3, "P-01"], "the table of tiles");
  },
};
