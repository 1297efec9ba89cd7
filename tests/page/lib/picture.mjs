// Reads the picture: pixels of a screenshot by CSS position.

import { tool } from "./tools.mjs";

const { PNG } = tool("pngjs");

/** A screenshot of the whole window; `at(x, y)` is `[red, green, blue]` at a CSS pixel. */
export async function picture(page) {
  const png = PNG.sync.read(await page.screenshot({ animations: "allow" }));
  const scale = png.width / page.viewportSize().width;
  const at = (x, y) => {
    const i = (Math.floor(y * scale) * png.width + Math.floor(x * scale)) * 4;
    return [png.data[i], png.data[i + 1], png.data[i + 2]];
  };
  return { at, width: png.width, height: png.height, data: png.data, scale };
}

/** The largest difference of two colours over the channels, 0 to 255. */
export const apart = (a, b) => Math.max(...a.map((value, i) => Math.abs(value - b[i])));

export const hex = (colour) => "#" + colour.map((value) => value.toString(16).padStart(2, "0")).join("");

export const fromHex = (text) => [1, 3, 5].map((i) => parseInt(text.replace(/^#?/, "#").slice(i, i + 2), 16));

/** Share of pixels within a box (CSS pixels) that differ between two pictures by more than `more`. */
export function changed(a, b, box, more = 2) {
  let [count, all] = [0, 0];
  for (let y = Math.ceil(box.y); y < box.y + box.height - 1; y += 2) {
    for (let x = Math.ceil(box.x); x < box.x + box.width - 1; x += 2) {
      all += 1;
      if (apart(a.at(x, y), b.at(x, y)) > more) count += 1;
    }
  }
  return count / all;
}

/** Number of different colours within a box (CSS pixels). */
export function colours(shot, box) {
  const seen = new Set();
  for (let y = Math.ceil(box.y); y < box.y + box.height - 1; y += 2) for (let x = Math.ceil(box.x); x < box.x + box.width - 1; x += 2) seen.add(hex(shot.at(x, y)));
  return seen.size;
}
