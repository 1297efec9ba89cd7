// Runs the page tests: `node tests/page/run.mjs [NAME…]`, those whose file or test name contains one of the words.
//
// A test file exports `tests`, an object of async functions by name; each gets a `Bench` (lib/harness.mjs). A test fails by
// throwing, and by any console error, exception or request to another host that it did not expect.

import { readdirSync } from "node:fs";
import { fileURLToPath } from "node:url";
import { begin, Bench } from "./lib/harness.mjs";

const LIMIT_S = 180;
const words = process.argv.slice(2);
const folder = fileURLToPath(new URL(".", import.meta.url));
const files = readdirSync(folder).filter((name) => name.endsWith(".test.mjs")).sort();
let [passed, failed] = [0, 0];
const broken = [];

const shared = await begin();
console.log(`Chromium ${shared.browser.version()}, page at ${shared.server.url}`);
for (const file of files) {
  const { tests } = await import(new URL(file, import.meta.url));
  for (const [name, test] of Object.entries(tests)) {
    const title = `${file.replace(".test.mjs", "")}: ${name}`;
    if (words.length > 0 && !words.some((word) => title.includes(word))) continue;
    await one(title, test);
  }
}
await shared.browser.close();
await shared.server.stop();
if (broken.length > 0) console.log(`\nfailed (pictures in tests/.tools/shots):\n${broken.map((title) => `   ${title}`).join("\n")}`);
console.log(`\ntest result: ${failed > 0 ? "FAILED" : "ok"}. ${passed} passed; ${failed} failed`);
process.exit(failed > 0 || passed === 0 ? 1 : 0);

/** Without terminal colours and empty lines, so that a log stays readable. */
function plain(words) {
  return words.replace(/\u001b\[\d*m/g, "").replace(/\n\s*\n/g, "\n").trim();
}

async function one(title, test) {
  const bench = new Bench(shared);
  const began = Date.now();
  let problem = null;
  let timer;
  try {
    const late = new Promise((_, reject) => (timer = setTimeout(() => reject(new Error(`not done after ${LIMIT_S} s`)), LIMIT_S * 1000)));
    await Promise.race([test(bench), late]);
    if (bench.complaints.length > 0) throw new Error(bench.complaints.slice(0, 5).join("\n      "));
  } catch (why) {
    problem = why;
  } finally {
    clearTimeout(timer);
  }
  await bench.end(problem ? title.replace(/[^\w]+/g, "-") : null).catch((why) => (problem ??= why));
  const spent = `${((Date.now() - began) / 1000).toFixed(1)} s`;
  if (problem) {
    failed += 1;
    broken.push(title);
    const own = bench.complaints.length > 0 && !bench.complaints.some((line) => problem.message.includes(line)) ? `\n      also: ${bench.complaints.slice(0, 3).join("\n      ")}` : "";
    console.log(`FAILED ${title} (${spent})\n      ${plain(problem.message)}${own}`);
    if (process.env.TRACE) console.log(problem.stack);
  } else {
    passed += 1;
    console.log(`ok     ${title} (${spent})`);
  }
  for (const line of bench.notes) console.log(`         ${line}`);
}
