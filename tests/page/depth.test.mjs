// Glue line and structure on the page: their colours, the picked tile's history, its moment, its profile.

import { claim, differ, matches, rows, same } from "./lib/check.mjs";
import { call, drawn, full } from "./lib/harness.mjs";
import { picture, changed } from "./lib/picture.mjs";

/** A tile with a stack, picked. */
async function picked(t, options) {
  const page = await t.open(options);
  await full(page);
  const row = rows(await call(page, "tiles")).filter((row) => row.peak_bondline_k !== "").sort((a, b) => a.margin_k - b.margin_k)[0];
  await page.fill("#find", row.tile);
  await page.press("#find", "Enter");
  await page.waitForSelector("#history");
  return { page, row };
}

const number = (text) => Number(text.replaceAll(/[,\u202f\u00a0]/g, ""));

export const tests = {
  async "glue line and structure colour the shield, with their own peaks"(t) {
    const page = await t.open();
    await page.click("[data-colour='surface']");
    await drawn(page);
    const box = await page.locator("#shield").boundingBox();
    let before = await picture(page);
    for (const colour of ["bondline", "structure"]) {
      await page.click(`.about [data-colour='${colour}']`);
      await drawn(page);
      same(await page.locator("body").getAttribute("data-colour"), colour, "data-colour");
      same((await call(page, "scenario")).view.colour, colour, "view.colour");
      const now = await picture(page);
      claim(changed(before, now, box) > 0.02, `${colour}: the picture did not change`);
      before = now;
    }
  },

  async "a slider's step shows glue line and structure of every tile in the next frame, as an estimate that the solution bears out"(t) {
    const { page } = await picked(t);
    const margins = () => page.evaluate(() => [...document.querySelectorAll(".mar b")].map((b) => b.textContent));
    const before = await margins();
    const step = await page.evaluate(async () => {
      const slider = document.querySelector("[data-input='heating.scale'] [role=slider]");
      const began = performance.now();
      for (let i = 0; i < 3; i += 1) slider.dispatchEvent(new KeyboardEvent("keydown", { key: "ArrowRight", bubbles: true }));
      await new Promise((next) => requestAnimationFrame(next));
      const words = document.querySelector(".verdict").innerText;
      return { ms: performance.now() - began, estimate: document.body.dataset.estimate, words, full: document.body.dataset.full };
    });
    t.note(`three steps of the heating and the frame that shows them: ${step.ms.toFixed(0)} ms, drawing without a graphics processor`);
    same([step.estimate, step.full], ["1", "0"], "data-estimate and data-full in the next frame");
    matches(step.words, /^About [\d,]+ tiles? falls? short; worst .*The full solution follows\.$/s, "the verdict in the next frame");
    const guessed = await margins();
    await full(page);
    const solved = await margins();
    differ(solved, before, "the picked tile's margins");
    const kelvin = (list) => list.map((text) => number(text.replace("\u2212", "-").replace(/[^\d.-]/g, "")));
    for (const [i, margin] of kelvin(solved).entries()) {
      claim(Math.abs(kelvin(guessed)[i] - margin) <= 3, `margins ${guessed} K in the next frame, ${solved} K when solved, ${before} K before`);
    }
  },

  async "the history's peaks are the table's, with the limits and both time axes"(t) {
    const { page, row } = await picked(t);
    const card = (await page.locator("[data-card=stack]").innerText()).replaceAll(/[,\u202f\u00a0]/g, "");
    for (const key of ["peak_bondline_k", "structure_at_touchdown_k"]) {
      matches(card, new RegExp(`(?<!\\d)${Math.round(Number(row[key]))}(?!\\d)`), `the card with ${key}`);
    }
    const plot = await page.locator("#history").evaluate((svg) => svg.textContent);
    for (const word of ["face", "glue line", "structure", "limit", "from touchdown"]) claim(plot.includes(word), `the plot does not say ${word}`);
  },

  async "the moment moves by key and pointer over the whole history, soak-back included, and the profile with it"(t) {
    const { page } = await picked(t);
    const slider = page.locator("#through");
    const [most, profile] = [Number(await slider.getAttribute("aria-valuemax")), () => page.locator("#profile path.fa").getAttribute("d")];
    claim(most > 1800, `the history ends at ${most} s, before any soak-back`);
    const first = await profile();
    await slider.focus();
    await page.keyboard.press("End");
    await drawn(page);
    same(Math.round(Number(await slider.getAttribute("aria-valuenow"))), Math.round(most), "the moment after End");
    differ(await profile(), first, "the profile");
    same(await page.evaluate(() => document.activeElement?.id), "through", "the focus after a key");
    await page.keyboard.press("Home");
    await drawn(page);
    await page.keyboard.press("ArrowRight");
    await drawn(page);
    const now = Number(await slider.getAttribute("aria-valuenow"));
    claim(now > 0 && now < most / 20, `one step from the start is ${now} s`);
    same((await call(page, "scenario")).view.time_s, Math.round(now), "view.time_s");
    const said = await slider.getAttribute("aria-valuetext");
    matches(said, /from entry interface, .*from touchdown: face .*, glue line .*, structure /, "what is read out");
    const box = await slider.boundingBox();
    await page.mouse.move(box.x + box.width * 0.3, box.y + box.height / 2);
    await page.mouse.down();
    await page.mouse.move(box.x + box.width * 0.5, box.y + box.height / 2, { steps: 4 });
    await page.mouse.up();
    await drawn(page);
    const dragged = Number(await slider.getAttribute("aria-valuenow"));
    claim(Math.abs(dragged / most - 0.5) < 0.1, `dragged to the middle, the moment is ${dragged} of ${most} s`);
  },

  async "nominal and counted stand side by side, and the term that matters most is named"(t) {
    const { page } = await picked(t);
    const scenario = await call(page, "scenario");
    const terms = [{ name: "heating", fraction: 0.05, level_sigma: 3 }, { name: "conductivity", fraction: 0.1, level_sigma: 3 }];
    await page.evaluate((scenario) => window.tileglow.open(scenario), { ...scenario, policy: { ...scenario.policy, terms } });
    const card = await page.locator("[data-card=limits]").innerText();
    matches(card, /glue line: nominal [\d,\u202f]+\s?K, counted/, "the limits of the card");
    matches(card, /(Heating|Conductivity) matters most: \+/, "the term that matters most");
    const [, nominal, counted] = /glue line: nominal ([\d,]+)\u202fK, counted\s+([\d,]+)/.exec(card) ?? [];
    claim(number(counted) > number(nominal), `counted ${counted} is not above nominal ${nominal}`);
  },
};
