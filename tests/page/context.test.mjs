// A lost graphics context comes back by itself, to the same picture.

import { claim, eventually, same } from "./lib/check.mjs";
import { call, drawn, full } from "./lib/harness.mjs";
import { changed, colours, picture } from "./lib/picture.mjs";

export const tests = {
  async "lost and restored"(t) {
    const page = await t.open();
    await full(page);
    await drawn(page);
    const box = await page.locator("#shield").boundingBox();
    const before = await picture(page);
    const tiles = await call(page, "tiles");
    await page.evaluate(() => {
      window.lose = document.getElementById("shield").getContext("webgl2").getExtension("WEBGL_lose_context");
      window.lose.loseContext();
    });
    await page.waitForTimeout(300);
    same(await call(page, "tiles"), tiles, "tiles() while the picture is lost");
    await page.evaluate(() => window.lose.restoreContext());
    const [share] = await eventually(async () => {
      await drawn(page);
      const now = await picture(page);
      const share = changed(before, now, box);
      return share < 0.01 ? [share, colours(now, box)] : null;
    }, "the picture from before is back", 15_000);
    claim(share < 0.01, "the picture differs");
    // And it still answers.
    await page.click("[data-colour='surface']");
    await drawn(page);
    claim(changed(before, await picture(page), box) > 0.02, "after the context came back the colour choice does nothing");
  },
};
