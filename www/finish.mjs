// Last step of the build: optimise the wasm, stamp versions into the page, list the files for offline use, tell the sizes.
// trunk calls it after each build (Trunk.toml) with the folder in TRUNK_STAGING_DIR.

import { createHash } from "node:crypto";
import { execFileSync } from "node:child_process";
import { existsSync, mkdirSync, readFileSync, readdirSync, renameSync, copyFileSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { fileURLToPath } from "node:url";
import { told } from "./sizes.mjs";

const here = fileURLToPath(new URL(".", import.meta.url));
const stage = process.env.TRUNK_STAGING_DIR ?? process.argv[2];
if (!stage) throw new Error("finish.mjs: give the built folder, or let trunk call this");
const at = (name) => join(stage, name);
const digest = (bytes) => createHash("sha256").update(bytes).digest("hex");

optimise(readdirSync(stage).find((name) => name.endsWith("_bg.wasm")));
stamp();
listForOffline();
console.log(told(stage));

/** The pinned binaryen over the wasm; kept by content, so that an unchanged engine is optimised once. */
function optimise(name) {
  if (!name) throw new Error(`finish.mjs: no wasm in ${stage}`);
  if (process.env.QUICK) return;
  const tool = join(here, "node_modules", "binaryen", "bin", "wasm-opt");
  if (!existsSync(tool)) {
    console.warn("finish.mjs: no binaryen in www/node_modules, so the wasm stays as it is; `sh www/serve.sh build` installs it");
    return;
  }
  // Plain optimisation of size and speed; nothing that changes a floating-point result (no --fast-math).
  const flags = ["-O3", "--strip-debug", "--strip-producers", "--enable-bulk-memory", "--enable-bulk-memory-opt", "--enable-sign-ext",
    "--enable-mutable-globals", "--enable-nontrapping-float-to-int", "--enable-multivalue", "--enable-reference-types", "--enable-simd"];
  const input = readFileSync(at(name));
  const keep = join(here, "..", "target", "tileglow-page");
  const done = join(keep, `${digest(input + flags.join(" ") + readFileSync(join(here, "package-lock.json"))).slice(0, 32)}.wasm`);
  if (!existsSync(done)) {
    console.log("optimising the wasm with the pinned binaryen (up to a minute)");
    mkdirSync(keep, { recursive: true });
    execFileSync(process.execPath, [tool, at(name), "-o", `${done}.part`, ...flags], { stdio: "inherit" });
    renameSync(`${done}.part`, done);
  }
  copyFileSync(done, at(name));
}

/** Names of files whose name carries no hash get one as a query, so that a host's cache never mixes two versions. */
function stamp() {
  let page = readFileSync(at("index.html"), "utf8");
  for (const name of ["style.css", "start.js", "worker.js", "sign.svg"]) {
    const stamped = `./${name}?v=${digest(readFileSync(at(name))).slice(0, 12)}`;
    if (!page.includes(`"./${name}"`)) throw new Error(`finish.mjs: index.html does not name ./${name}`);
    page = page.replaceAll(`"./${name}"`, `"${stamped}"`);
  }
  if (/<script(?![^>]*\ssrc=)[^>]*>|<style|\sstyle=|\son\w+=/i.test(page)) throw new Error("finish.mjs: the built page has an inline script or style, which its policy forbids");
  writeFileSync(at("index.html"), page);
}

/** What the page asks for, by the names it asks for, and one digest over all of it. */
function listForOffline() {
  const page = readFileSync(at("index.html"), "utf8");
  const files = ["./"];
  const all = createHash("sha256").update(page);
  for (const name of readdirSync(stage, { recursive: true }).map((name) => name.replaceAll("\\", "/")).sort()) {
    if (name === "index.html" || name === "offline.js" || name === "tileglow.html" || !/\.\w+$/.test(name)) continue;
    const stamped = page.match(new RegExp(`"(\\./${name.replaceAll(".", "\\.")}\\?v=[0-9a-f]+)"`));
    files.push(stamped ? stamped[1] : `./${name}`);
    all.update(readFileSync(at(name)));
  }
  const source = readFileSync(at("offline.js"), "utf8");
  const built = source
    .replace("const FILES = [];", `const FILES = ${JSON.stringify(files)};`)
    .replace('const VERSION = "unbuilt";', `const VERSION = "${all.digest("hex").slice(0, 16)}";`);
  if (built.includes("FILES = []") || built.includes("unbuilt")) throw new Error("finish.mjs: offline.js has no place for the list of files");
  writeFileSync(at("offline.js"), built);
}
