// Narrow windows and zoom: one column, nothing cut off at the side, everything still there.

import { claim, same } from "./lib/check.mjs";
import { drawn, full } from "./lib/harness.mjs";

const WIDTHS = [320, 360, 414, 480, 600, 720, 1024, 1279];

export const tests = {
  async "no sideways scrolling from 320 px up"(t) {
    const page = await t.open();
    await full(page);
    const wrong = [];
    for (const width of WIDTHS) {
      await page.setViewportSize({ width, height: 800 });
      await drawn(page);
      const [is, room] = await page.evaluate(() => [document.documentElement.scrollWidth, document.documentElement.clientWidth]);
      if (is > room) {
        const who = await page.evaluate((room) => [...document.querySelectorAll("body *")].filter((e) => e.getBoundingClientRect().right > room + 1 && !e.closest("svg svg, canvas")).slice(0, 4).map((e) => `${e.tagName.toLowerCase()}${e.id ? `#${e.id}` : ""}.${e.getAttribute("class") ?? ""}`), room);
        wrong.push(`${width} px: ${is} px wide (${who.join(", ")})`);
      }
    }
    same(wrong, [], "widths that scroll sideways");
  },

  async "on a phone the order is verdict, shield, scale, ribbon, chain, and the shield is drawn"(t) {
    const page = await t.open({ width: 390, height: 844, touch: true, scale: 2 });
    await full(page);
    const tops = await page.evaluate(() => ["verdict", "stage", "scale", "ribbon", "chain"].map((id) => document.getElementById(id).getBoundingClientRect().top));
    same([...tops].sort((a, b) => a - b), tops, "the tops of the five parts, in order");
    const box = await page.locator("#shield").boundingBox();
    claim(box.width > 250 && box.height > 180, `the shield is ${box.width} by ${box.height} px`);
    const size = await page.$eval("#shield", (canvas) => canvas.width / canvas.getBoundingClientRect().width);
    claim(Math.abs(size - 2) < 0.1, `the shield has ${size.toFixed(2)} device pixels a CSS pixel, the screen has 2`);
    const small = await page.$$eval("button, [role=slider], input, [role=tab]", (targets) => targets.filter((e) => e.checkVisibility()).map((e) => ({ e, box: e.getBoundingClientRect() })).filter(({ box }) => box.width > 0 && (box.width < 23.5 || box.height < 23.5)).map(({ e, box }) => `${e.id || e.dataset.act || e.textContent.trim().slice(0, 16) || e.getAttribute("aria-label")} ${box.width.toFixed(0)}x${box.height.toFixed(0)}`));
    same(small, [], "targets smaller than 24 px");
  },

  async "of the plans' handles that lie over one another a finger takes the nearest"(t) {
    const page = await t.open({ width: 390, height: 844, touch: true, scale: 2 });
    const wrong = await page.evaluate(() => {
      const [named, out] = [(e) => e?.getAttribute("aria-label") + (e?.dataset.reversal ?? e?.dataset.point), []];
      document.getElementById("flight").scrollIntoView({ block: "center" });
      for (let i = 0; i < document.querySelectorAll("#flight .point").length; i += 1) {
        const handle = document.querySelectorAll("#flight .point")[i];
        const box = handle.getBoundingClientRect();
        const at = { clientX: box.x + box.width / 2, clientY: box.y + box.height / 2, bubbles: true, pointerId: 1 };
        document.elementFromPoint(at.clientX, at.clientY).dispatchEvent(new PointerEvent("pointerdown", at));
        if (document.activeElement !== handle) out.push(`${named(handle)}: ${named(document.activeElement)}`);
        document.elementFromPoint(at.clientX, at.clientY).dispatchEvent(new PointerEvent("pointercancel", at));
      }
      return out;
    });
    same(wrong, [], "handles pressed in their middle, and what was taken");
  },
};
