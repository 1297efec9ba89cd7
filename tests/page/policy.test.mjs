// The page asks for nothing but its own files, and its policy would not let it do more.

import { readFileSync, readdirSync } from "node:fs";
import { join } from "node:path";
import { claim, matches, same } from "./lib/check.mjs";
import { DIST, full } from "./lib/harness.mjs";

export const tests = {
  async "every request is for a file of the build"(t) {
    const page = await t.tab();
    const asked = new Set();
    page.context().on("request", (request) => asked.add(request.url().split(/[?#]/)[0]));
    await t.go(page);
    await full(page);
    const files = new Set(["", ...readdirSync(DIST, { recursive: true })].map((name) => t.server.url + name.replaceAll("\\", "/")));
    same([...asked].filter((url) => !files.has(url) && !/^(data|blob):/.test(url)), [], "requests beyond the build");
  },

  async "the policy is strict, in the file itself"(t) {
    const page = readFileSync(join(DIST, "index.html"), "utf8");
    const policy = /http-equiv="Content-Security-Policy" content="([^"]*)"/.exec(page)?.[1] ?? "";
    matches(policy, /default-src 'none'/, "the policy");
    claim(!/unsafe-inline|'unsafe-eval'|https?:|\*/.test(policy), `the policy opens a door: ${policy}`);
    claim(page.indexOf("Content-Security-Policy") < page.search(/<script|<link/), "something is loaded before the policy stands");
    t.note(policy);
  },

  async "the policy holds: an inline script, an eval and a foreign request are stopped"(t) {
    const page = await t.open();
    const stopped = await page.evaluate(async () => {
      const script = document.createElement("script");
      script.textContent = "window.ran = true";
      document.body.append(script);
      let evaluated = true;
      try {
        setTimeout("window.ran = true");
        await new Promise((done) => setTimeout(done, 50));
      } catch {
        evaluated = false;
      }
      const fetched = await fetch("http://127.0.0.1:9/").then(() => true, () => false);
      return { ran: window.ran ?? false, evaluated, fetched };
    });
    claim(!stopped.ran && !stopped.fetched, `not stopped: ${JSON.stringify(stopped)}`);
    claim(t.complaints.length >= 2, "the browser reported no breach of the policy");
    t.complaints = t.complaints.filter((line) => !/Content Security Policy|127\.0\.0\.1:9\//.test(line));
  },
};
