// What was found becomes a row, a condition and a decision; every step can be undone, and free text stays text.

import { claim, eventually, rows, same } from "./lib/check.mjs";
import { call, drawn, full } from "./lib/harness.mjs";

const field = (page, column) => page.locator(`#inspection [data-column='${column}']`);

async function opened(t) {
  const page = await t.open();
  await full(page);
  await page.click("#tab-findings");
  await page.waitForSelector("#inspection tr[data-finding]");
  return page;
}

/** Fills the form of a new finding on the tile picked and sends it. */
async function say(page, answers) {
  await page.click("[data-finding-new]");
  await page.waitForSelector("#finding-kind");
  await page.selectOption("#finding-kind", answers.kind);
  for (const [column, text] of Object.entries(answers)) if (column !== "kind") await field(page, column).fill(text);
  await page.click("#inspection button[type=submit]");
  await full(page);
}

export const tests = {
  async "the list holds every finding, the worst first, and one opens its form"(t) {
    const page = await opened(t);
    const list = await page.$$eval("#inspection tr[data-finding]", (lines) => lines.map((line) => line.dataset.finding));
    claim(list.length > 100, `only ${list.length} findings are listed`);
    same(new Set(list).size, list.length, "findings that stand twice");
    await page.click(`#inspection tr[data-finding='${list[0]}']`);
    await page.waitForSelector("#inspection fieldset");
    claim((await page.textContent("#inspection fieldset")).includes("Suggested"), "the form names no suggestion");
    claim((await page.textContent("#inspection fieldset")).includes("A suggested disposition is not a decision"), "the caution does not stand beside it");
  },

  async "a finding that grew says so in the list and in its tile's flights"(t) {
    const page = await opened(t);
    const grown = page.locator("#inspection tr[data-finding]", { hasText: "since it was last seen" });
    claim((await grown.count()) >= 5, `only ${await grown.count()} findings grew`);
    const tile = await grown.first().getAttribute("data-tile");
    await page.fill("#find", tile);
    await page.press("#find", "Enter");
    const strip = page.locator(".lived li");
    // Until then the tile that was picked before has its own flights there.
    await eventually(async () => / since\)/.test((await strip.allInnerTexts()).at(-1) ?? ""), "the growth among the tile's flights");
    claim((await page.locator(".lived li.found").count()) >= 2, "the finding stands after one flight alone");
  },

  async "a kind asks only what it needs"(t) {
    const page = await opened(t);
    await page.click("[data-finding-new]");
    const asked = async (kind) => {
      await page.selectOption("#finding-kind", kind);
      await drawn(page);
      return page.$$eval("#inspection [data-column]", (fields) => fields.map((field) => field.dataset.column));
    };
    claim((await asked("step")).includes("step_mm"), "a step asks no step");
    claim(!(await asked("step")).includes("depth_mm"), "a step asks a depth");
    claim((await asked("gouge")).includes("depth_mm"), "a gouge asks no depth");
    claim(!(await asked("doubtful-bond")).some((column) => column.endsWith("_mm")), "a doubtful bond asks a size");
  },

  async "a finding said changes its tile's condition, and undo takes it back"(t) {
    const page = await opened(t);
    const before = await call(page, "tiles");
    const tile = rows(before).find((row) => row.condition === "as-built" && row.zone.includes("belly"))?.tile ?? rows(before).find((row) => row.condition === "as-built").tile;
    await page.fill("#find", tile);
    await page.press("#find", "Enter");
    await say(page, { kind: "doubtful-bond", found_by: "<b>x</b>", note: "=1+1 ‮ <img src=x>" });
    const scenario = await call(page, "scenario");
    same(scenario.findings.length, 1, "findings of the scenario");
    same([scenario.findings[0].tile, scenario.findings[0].note], [tile, "=1+1 ‮ <img src=x>"], "the finding");
    same(rows(await call(page, "tiles")).find((row) => row.tile === tile).condition, "not-cleared", "the tile's condition");
    same(await page.locator("#inspection img, #inspection td b").count(), 0, "elements made from free text");
    await page.click("[data-act=undo]");
    await full(page);
    same(await call(page, "tiles"), before, "tiles() after undo");
  },

  async "what cannot be is told in the form and changes nothing"(t) {
    const page = await opened(t);
    const tile = rows(await call(page, "tiles"))[5].tile;
    await page.fill("#find", tile);
    await page.press("#find", "Enter");
    await say(page, { kind: "gouge", length_mm: "20", depth_mm: "900" });
    const told = await eventually(() => page.locator("#inspection [role=alert]").textContent(), "the refusal");
    claim(told.includes("900"), `the refusal does not quote what was typed: ${told}`);
    same((await call(page, "scenario")).findings.length, 0, "findings of the scenario");
    same(await field(page, "depth_mm").inputValue(), "900", "what was typed");
  },

  async "a decision needs a name and a date, and a reason where it is not the suggestion"(t) {
    const page = await opened(t);
    await page.click("#inspection tr[data-finding]");
    await page.waitForSelector("#finding-decision");
    const id = (await page.textContent("#inspection form h2")).split(":")[0];
    await page.selectOption("#finding-decision", "fly-as-is");
    await page.click("#inspection button[type=submit]");
    claim((await page.textContent("#inspection [role=alert]")).includes("name"), "an unsigned decision was taken");
    await field(page, "decided_by").fill("R. Example");
    await field(page, "decided_on").fill("2031-05-20");
    await page.click("#inspection button[type=submit]");
    claim((await page.textContent("#inspection [role=alert]")).includes("reason"), "a decision against the suggestion was taken without a reason");
    await field(page, "decision_reason").fill("bond verified by pull test");
    await page.click("#inspection button[type=submit]");
    await full(page);
    const own = (await call(page, "scenario")).findings.find((finding) => finding.finding === id);
    same([own.decision, own.decided_by, own.decided_on, own.decision_reason], ["fly-as-is", "R. Example", "2031-05-20", "bond verified by pull test"], "the decision");
  },

  async "the work says its hours, fewer people take longer, and decisions change it"(t) {
    const page = await t.open();
    await full(page);
    await page.click("#tab-work");
    await page.waitForSelector("#work tbody tr");
    const ready = async () => Number((await page.textContent("#ready")).replace(/[^\d.]/g, ""));
    const many = await ready();
    claim(many > 0, `ready after ${many} h`);
    await page.fill("#people", "3");
    await page.press("#people", "Enter");
    await full(page);
    same((await call(page, "scenario")).work.people, 3, "work.people");
    claim((await ready()) > many, `three people are ready after ${await ready()} h, eight after ${many} h`);
    await page.click("[data-act=undo]");
    await full(page);
    same(await ready(), many, "hours to ready after undo");
    claim((await page.textContent("#work caption")).includes("invented for the demonstration"), "the rates do not say that they are invented");
    await page.fill("#people", "none");
    await page.press("#people", "Enter");
    same(await page.inputValue("#people"), "8", "the field after a word");
  },
};
