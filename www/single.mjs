// Writes dist/tileglow.html: the whole built page in one file that opens from disk, without a server.
// `node www/single.mjs [FOLDER]` after a build. The policy names the inlined script and style by their digests.

import { createHash } from "node:crypto";
import { readFileSync, readdirSync, renameSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { fileURLToPath } from "node:url";
import { gzipSync } from "node:zlib";

const folder = process.argv[2] ?? fileURLToPath(new URL("../dist", import.meta.url));
const read = (name) => readFileSync(join(folder, name), "utf8");
const names = readdirSync(folder);
const find = (what, ending) => names.find((name) => name.startsWith("tileglow-") && name.endsWith(ending)) ?? fail(`no ${what} in ${folder}; build the page first`);
function fail(why) {
  console.error(`error: single.mjs: ${why}`);
  process.exit(1);
}

// The engine's module becomes plain declarations of the one inlined module.
let engine = read(find("engine code", ".js"));
if (/^\s*import\s/m.test(engine)) fail("the engine's code imports a further file, which one file cannot hold");
const exported = /^export \{([^}]*)\};?\s*$/m.exec(engine) ?? fail("the engine's code has no list of exports");
const start = exported[1].split(",").map((part) => /^\s*(\S+)\s+as\s+default\s*$/.exec(part)?.[1]).find(Boolean) ?? fail("the engine's code exports no default");
engine = engine.replace(exported[0], "").replace(/^export (?=(async )?function |class |const |let )/gm, "");
if (/^export\b/m.test(engine)) fail("an export of the engine's code is of an unknown kind");

// A worker is the same engine and worker.js in one module, which the page makes an address of its own for.
const workerAt = /const engine = await import\(message\.code\);\s*await engine\.default\(/;
const workerEngine = /engine\.Solver\(\)/;
const worker = read("worker.js");
if (!workerAt.test(worker) || !workerEngine.test(worker)) fail("worker.js does not start the engine as expected");
const workerCode = `${engine}\n${worker.replace(workerAt, () => `await ${start}(`).replace(workerEngine, "Solver()")}`;

// The same start.js as the page's, given the engine that stands in the file instead of two addresses.
const starter = read("start.js");
const engineAt = /\/\/ <engine>[\s\S]*?\/\/ <\/engine>/;
if (!engineAt.test(starter)) fail("start.js has no part between <engine> marks");
const wasm = gzipSync(readFileSync(join(folder, find("engine", "_bg.wasm"))), { level: 9 }).toString("base64");
const inlined = starter.replace(engineAt, () => `
    const packed = Uint8Array.from(atob(document.getElementById("engine-wasm").textContent), (c) => c.charCodeAt(0));
    const bytes = await new Response(new Blob([packed]).stream().pipeThrough(new DecompressionStream("gzip"))).arrayBuffer();
    const code = new Blob([document.getElementById("worker-code").textContent], { type: "text/javascript" });
    document.getElementById("engine-worker").href = URL.createObjectURL(code);
    await ${start}({ module_or_path: bytes });`);
const script = `${engine}\n${inlined}`;
const style = read("style.css");
if (/<\/script/i.test(script + workerCode) || /<\/style/i.test(style)) fail("the code holds a closing tag, which would end it early");

const digest = (text) => `'sha256-${createHash("sha256").update(text).digest("base64")}'`;
const sign = `data:image/svg+xml;base64,${readFileSync(join(folder, "sign.svg")).toString("base64")}`;
let page = read("index.html");
const put = (pattern, text) => {
  if (!pattern.test(page)) fail(`index.html has no ${pattern}`);
  page = page.replace(pattern, () => text);
};
put(/script-src 'self' 'wasm-unsafe-eval'; style-src 'self'; img-src 'self' data: blob:; connect-src 'self'; worker-src 'self';/,
  `script-src ${digest(script)} 'wasm-unsafe-eval'; style-src ${digest(style)}; img-src data: blob:; worker-src blob:;`);
put(/<link rel="stylesheet"[^>]*>/, `<style>${style}</style>`);
put(/href="\.\/sign\.svg[^"]*"/, `href="${sign}"`);
put(/<script type="module"[^>]*><\/script>/, "");
put(/<link rel="modulepreload"[^>]*>/, "");
put(/<link rel="preload"[^>]*>/, "");
put(/<link id="engine-worker"[^>]*>/, '<link id="engine-worker">');
put(/<\/body>/, `<script type="application/gzip+base64" id="engine-wasm">${wasm}</script>\n<script type="text/plain" id="worker-code">${workerCode}</script>\n<script type="module">${script}</script>\n</body>`);

const out = join(folder, "tileglow.html");
writeFileSync(`${out}.part`, page);
renameSync(`${out}.part`, out);
console.log(`${out}: ${(page.length / 1000).toFixed(0)} kB`);
