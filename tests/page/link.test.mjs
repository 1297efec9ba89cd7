// The link opens to the same state and the same numbers, and says when it does not.

import { createHash } from "node:crypto";
import { inflateRawSync, deflateRawSync } from "node:zlib";
import { claim, differ, eventually, matches, same } from "./lib/check.mjs";
import { call, full, ready } from "./lib/harness.mjs";
import { open } from "./lib/vehicles.mjs";

const parts = (link) => /#v1\.([A-Za-z0-9_-]+)(?:\.([0-9a-f]{16}))?$/.exec(link);
const document = (link) => JSON.parse(inflateRawSync(Buffer.from(parts(link)[1], "base64url")).toString("utf8"));
const packed = (value) => `#v1.${deflateRawSync(Buffer.from(JSON.stringify(value))).toString("base64url")}`;
const pageText = (page) => page.evaluate(() => document.body.innerText);
/** The text with digests written together, which the page shows in groups of four digits. */
const digits = async (page) => (await pageText(page)).replaceAll(/(?<=\b[0-9a-f]{4})[\s\u202f](?=[0-9a-f]{4}\b)/g, "");

/** A state of its own in inputs and view. */
async function changed(page) {
  const scenario = await call(page, "scenario");
  const other = { ...scenario, heating: { ...scenario.heating, scale: 1.07, lee_fraction: 0.04 }, note: "grüße, “wörtlich” 1 < 2", view: { ...scenario.view, colour: "surface", units: "us", tile: (await call(page, "tiles")).split("\n")[17].split(",")[0] } };
  same(await open(page, other), null, "refusal");
  await full(page);
}

export const tests = {
  async "it is the documented form: only what differs, then the results' digest"(t) {
    const page = await t.open();
    await changed(page);
    const link = await call(page, "link");
    claim(parts(link), `the link is ${link}`);
    claim(link.startsWith(t.server.url), `the link does not begin with the page's address: ${link.slice(0, 60)}`);
    const inside = document(link);
    same(inside.heating, { scale: 1.07, lee_fraction: 0.04 }, "the heating in the link");
    same(inside.landing, undefined, "a part that stands at its default");
    claim(Array.isArray(inside.entries), "the entries, which are never left out");
    same(inside.note, "grüße, “wörtlich” 1 < 2", "the note");
    same(parts(link)[2], createHash("sha256").update(await call(page, "tiles")).digest("hex").slice(0, 16), "the digest in the link");
    t.note(`${link.length} characters`);
  },

  async "another visitor who opens it sees the same state, numbers and view, and that they agree"(t) {
    const page = await t.open();
    await changed(page);
    const link = await call(page, "link");
    const [scenario, tiles] = [await call(page, "scenario"), await call(page, "tiles")];
    const other = await t.open({ hash: link.slice(link.indexOf("#")) });
    await full(other);
    same(await call(other, "scenario"), scenario, "the scenario");
    same(await call(other, "tiles"), tiles, "tiles()");
    same(await call(other, "link"), link, "the link made from it again");
    same(await other.getAttribute("body", "data-units"), "us", "the units");
    same(await other.getAttribute("body", "data-colour"), "surface", "the colour");
    matches(await pageText(other), /\bagree\b|\bagrees\b|same (numbers|results)/i, "the page on whether the numbers agree");
  },

  async "a digest that does not agree is told with both"(t) {
    const page = await t.open();
    const link = await call(page, "link");
    const [, body, digest] = parts(link);
    const wrong = digest.replace(/.$/, (last) => (last === "0" ? "1" : "0"));
    const other = await t.open({ hash: `#v1.${body}.${wrong}` });
    await full(other);
    const text = await eventually(async () => ((await digits(other)).includes(wrong) ? digits(other) : null), `the page names the link's digest ${wrong}`);
    claim(text.includes(digest), `the page does not name its own digest ${digest}`);
    differ(wrong, digest, "the digest");
  },

  async "the button puts the link on the clipboard"(t) {
    const page = await t.open();
    await page.click("[data-act=link]");
    const link = await call(page, "link");
    await eventually(async () => (await page.evaluate(() => navigator.clipboard.readText())) === link, "the clipboard holds the link");
  },

  async "a link that cannot be read is told, and the demonstration stands"(t) {
    const good = parts(await call(await t.open(), "link"));
    const huge = packed({ format: "tileglow-scenario/1", note: "x".repeat(5_000_000) });
    const bad = {
      "an unknown version": `#v9.${good[1]}`,
      "no base64url": "#v1.@@@@",
      "no deflate stream": "#v1.AAAAAAAA",
      "cut short": `#v1.${good[1].slice(0, 40)}`,
      "no JSON": `#v1.${deflateRawSync(Buffer.from("{")).toString("base64url")}`,
      "an unknown key": packed({ format: "tileglow-scenario/1", colour: "red" }),
      "unpacked beyond 4 MB": huge,
    };
    // What is wrong with a link is known before the first result: nobody waits for the whole shield to be told, so that this does not either.
    for (const [name, hash] of Object.entries(bad)) {
      const page = await t.tab();
      await page.goto(t.server.url + hash);
      const refused = page.locator("#refused");
      await refused.waitFor({ state: "visible" });
      matches(await refused.innerText(), /link/i, `${name}: what is told`);
      same((await call(page, "scenario")).vehicle.name, "Whinchat", `${name}: the vehicle`);
      if (hash === huge) {
        await ready(page);
        same(document(await call(page, "link")), document(good[0]), "the demonstration's own link");
      }
      await page.context().close();
    }
  },

  async "another link in the address of the open page is opened"(t) {
    const page = await t.open();
    const before = await call(page, "scenario");
    const hash = packed({ format: "tileglow-scenario/1", entries: before.entries, heating: { scale: 1.5 } });
    await page.evaluate((hash) => (location.hash = hash), hash);
    await eventually(async () => (await call(page, "scenario")).heating.scale === 1.5, "the scenario of the new link");
  },

  async "past 8 kB the link is refused and the file named"(t) {
    const page = await t.open();
    const scenario = await call(page, "scenario");
    // Text that does not deflate well.
    let seed = 1;
    const note = Array.from({ length: 20_000 }, () => String.fromCharCode(33 + ((seed = (seed * 48271) % 2147483647) % 90))).join("");
    same(await open(page, { ...scenario, note }), null, "refusal");
    const words = await page.evaluate(() => window.tileglow.link().then((link) => `a link of ${link.length} characters`, (why) => why?.message ?? String(why)));
    matches(words, /file/i, "the refusal of a long link");
  },
};
