// After the first visit the page opens without its host; the single file opens without any.

import { existsSync } from "node:fs";
import { join } from "node:path";
import { pathToFileURL } from "node:url";
import { claim, eventually, same } from "./lib/check.mjs";
import { call, DIST, ready } from "./lib/harness.mjs";
import { serve } from "../../www/server.mjs";

export const tests = {
  async "offline after the first visit"(t) {
    const server = await serve(DIST);
    const page = await t.tab();
    t.server = server;
    // The address is this test's own, so that the requests to it are the page's own too.
    page.context().on("request", () => {});
    await page.goto(server.url);
    await ready(page);
    const tiles = await call(page, "tiles");
    await eventually(() => page.evaluate(async () => (await navigator.serviceWorker.getRegistration())?.active?.state === "activated"), "the service worker is active", 20_000);
    await server.stop();
    t.complaints.length = 0;
    await page.goto(server.url);
    await ready(page);
    same(await call(page, "tiles"), tiles, "tiles() without the host");
    t.complaints = t.complaints.filter((line) => !line.includes(server.url));
  },

  async "the cache holds the page's own files and no other"(t) {
    const page = await t.open();
    await eventually(() => page.evaluate(async () => (await navigator.serviceWorker.getRegistration())?.active?.state === "activated"), "the service worker is active", 20_000);
    const kept = await page.evaluate(async () => {
      const names = await caches.keys();
      const all = await Promise.all(names.map(async (name) => (await (await caches.open(name)).keys()).map((request) => request.url)));
      return { names, urls: all.flat() };
    });
    same(kept.names.length, 1, "the number of caches");
    claim(kept.urls.length >= 5 && kept.urls.every((url) => url.startsWith(t.server.url)), `kept: ${kept.urls.join(" ")}`);
  },

  async "the single file opens from disk with the same numbers"(t) {
    const file = join(DIST, "tileglow.html");
    if (!existsSync(file)) throw new Error(`no ${file}: \`sh www/serve.sh single\` writes it`);
    const served = await call(await t.open(), "tiles");
    const page = await t.tab();
    const asked = [];
    page.on("request", (request) => asked.push(request.url()));
    await page.goto(pathToFileURL(file).href);
    await ready(page);
    same(await call(page, "tiles"), served, "tiles()");
    same(asked.filter((url) => !/^(data|blob):/.test(url)), [pathToFileURL(file).href], "what the file asked for");
  },
};
