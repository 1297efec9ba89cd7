// Dragging a slider moves the picture while it is dragged and the results when it is let go.

import { claim, differ, eventually, same } from "./lib/check.mjs";
import { call, drawn, full } from "./lib/harness.mjs";
import { changed, picture } from "./lib/picture.mjs";

const SCALE = "[data-input='heating.scale']";

/** Takes the thumb of a slider and moves it by so many CSS pixels, without letting go. */
async function grab(page, input, by) {
  const slider = page.locator(`${input} [role=slider]`);
  await slider.scrollIntoViewIfNeeded();
  const box = await slider.boundingBox();
  const from = { x: box.x + box.width / 2, y: box.y + box.height / 2 };
  await page.mouse.move(from.x, from.y);
  await page.mouse.down();
  for (let step = 1; step <= 6; step += 1) await page.mouse.move(from.x + (by * step) / 6, from.y);
}

/** Waits until more than a fiftieth of the pixels differ from an earlier picture: a loaded machine shows a frame late. */
async function pictureChanges(page, before, box, what) {
  let share = 0;
  for (let again = 0; again < 40 && share <= 0.02; again += 1) {
    await drawn(page);
    share = changed(before, await picture(page), box);
  }
  claim(share > 0.02, `${what}, the picture changed in ${(100 * share).toFixed(2)} % of its pixels only`);
}

export const tests = {
  async "the picture follows while the slider is held, and the full results after"(t) {
    const page = await t.open();
    await full(page);
    await page.click("[data-colour='surface']");
    await drawn(page);
    const tiles = await call(page, "tiles");
    const now = await page.locator(`${SCALE} [role=slider]`).getAttribute("aria-valuenow");
    const box = await page.locator("#shield").boundingBox();
    const before = await picture(page);
    await grab(page, SCALE, 60);
    await pictureChanges(page, before, box, "held at another value");
    differ(await page.locator(`${SCALE} [role=slider]`).getAttribute("aria-valuenow"), now, "the slider's value");
    await page.mouse.up();
    await full(page);
    const { heating } = await call(page, "scenario");
    claim(heating.scale > 1, `moved to the right, the heating scale is ${heating.scale}`);
    differ(await eventually(() => call(page, "tiles"), "tiles()"), tiles, "tiles()");
  },

  async "undo brings back the value from before the drag, in one step"(t) {
    const page = await t.open();
    await full(page);
    const [scenario, tiles] = [await call(page, "scenario"), await call(page, "tiles")];
    await grab(page, SCALE, 40);
    await page.mouse.up();
    await full(page);
    differ((await call(page, "scenario")).heating, scenario.heating, "the heating");
    await page.click("[data-act=undo]");
    await full(page);
    same((await call(page, "scenario")).heating, scenario.heating, "the heating after undo");
    same(await call(page, "tiles"), tiles, "tiles() after undo");
    claim(await page.locator("[data-act=undo]").isDisabled(), "after the only step is undone there is another to undo");
  },

  async "redo brings it forward again"(t) {
    const page = await t.open();
    await full(page);
    const field = page.locator(`${SCALE} input.num`);
    const states = [[await call(page, "scenario"), await call(page, "tiles")]];
    for (const value of ["1.1", "1.2"]) {
      await field.fill(value);
      await field.press("Enter");
      await drawn(page);
      states.push([await call(page, "scenario"), value === "1.2" ? await call(page, "tiles") : null]);
    }
    same(states.map(([scenario]) => scenario.heating.scale), [1, 1.1, 1.2], "the scales taken");
    // The results of both ends; between them the inputs, of which the results are made.
    for (const [act, at] of [["undo", 1], ["undo", 0], ["redo", 1], ["redo", 2], ["undo", 1]]) {
      await page.click(`[data-act=${act}]`);
      await drawn(page);
      same((await call(page, "scenario")).heating, states[at][0].heating, `heating after ${act} to step ${at}`);
      if (states[at][1] !== null) same(await call(page, "tiles"), states[at][1], `tiles() after ${act} to step ${at}`);
    }
  },

  async "a new change ends what could be redone"(t) {
    const page = await t.open();
    const field = page.locator(`${SCALE} input.num`);
    await field.fill("1.1");
    await field.press("Enter");
    await drawn(page);
    await page.click("[data-act=undo]");
    await drawn(page);
    claim(!(await page.locator("[data-act=redo]").isDisabled()), "what was undone cannot be redone");
    await field.fill("0.9");
    await field.press("Enter");
    await full(page);
    claim(await page.locator("[data-act=redo]").isDisabled(), "after a new change the old one can still be redone");
  },

  async "a number typed in the field is taken, one out of range is refused in place"(t) {
    const page = await t.open();
    const field = page.locator(`${SCALE} input.num`);
    await field.fill("1.25");
    await field.press("Enter");
    await full(page);
    same((await call(page, "scenario")).heating.scale, 1.25, "heating.scale");
    await field.fill("-3");
    await field.press("Enter");
    await full(page);
    same((await call(page, "scenario")).heating.scale, 1.25, "heating.scale after a number out of range");
    await field.fill("hot");
    await field.press("Enter");
    await full(page);
    same((await call(page, "scenario")).heating.scale, 1.25, "heating.scale after a word");
  },

  async "the moment on the ribbon changes the picture in temperature"(t) {
    const page = await t.open();
    await page.click("[data-colour='surface']");
    await drawn(page);
    const box = await page.locator("#shield").boundingBox();
    const before = await picture(page);
    const moment = page.locator("#moment");
    await moment.focus();
    await moment.press("Home");
    for (let i = 0; i < 5; i += 1) await moment.press("ArrowRight");
    await drawn(page);
    claim((await call(page, "scenario")).view.time_s !== null, "view.time_s is null after moving along the ribbon");
    await pictureChanges(page, before, box, "at another moment");
  },
};
