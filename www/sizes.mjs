// Sizes of the built page as a host sends it, and whether they stay within the budget.
// `node www/sizes.mjs [FOLDER]` prints them and fails above the budget.

import { readFileSync, readdirSync, statSync } from "node:fs";
import { join } from "node:path";
import { fileURLToPath, pathToFileURL } from "node:url";
import { brotliCompressSync, gzipSync } from "node:zlib";

/** Bytes sent with gzip, the most common compression; brotli sends less. */
export const BUDGET = { withoutDemo: 600_000, withDemo: 1_000_000 };

/** Files that hold the demonstration and nothing else. */
const DEMO = /whinchat|demo/i;

/** Every file of a built page with its size in bytes: as it is, gzip, brotli. The single file is a second form and not counted. */
export function sizes(folder) {
  return readdirSync(folder, { recursive: true })
    .map((name) => name.replaceAll("\\", "/"))
    .filter((name) => name !== "tileglow.html" && statSync(join(folder, name)).isFile())
    .sort()
    .map((name) => {
      const bytes = readFileSync(join(folder, name));
      return { name, demo: DEMO.test(name), plain: bytes.length, gzip: gzipSync(bytes, { level: 9 }).length, brotli: brotliCompressSync(bytes).length };
    });
}

const sum = (rows, key) => rows.reduce((total, row) => total + row[key], 0);
const kb = (bytes) => `${(bytes / 1000).toFixed(1)} kB`.padStart(11);

/** The sizes as a table in plain text. */
export function told(folder) {
  const rows = sizes(folder);
  const line = (name, row) => `${name.padEnd(40)}${kb(row.plain)}${kb(row.gzip)}${kb(row.brotli)}`;
  const total = { plain: sum(rows, "plain"), gzip: sum(rows, "gzip"), brotli: sum(rows, "brotli") };
  return [`${"the page".padEnd(40)}${"plain".padStart(11)}${"gzip".padStart(11)}${"brotli".padStart(11)}`, ...rows.map((row) => line(row.name, row)), line("all", total)].join("\n");
}

if (import.meta.url === pathToFileURL(process.argv[1] ?? "").href) {
  const folder = process.argv[2] ?? fileURLToPath(new URL("../dist", import.meta.url));
  console.log(told(folder));
  const rows = sizes(folder);
  const all = sum(rows, "gzip");
  const engine = sum(rows.filter((row) => !row.demo), "gzip");
  let failed = false;
  for (const [what, is, most] of [["without the demonstration", engine, BUDGET.withoutDemo], ["with the demonstration", all, BUDGET.withDemo]]) {
    console.log(`${what}: ${kb(is).trim()} of ${kb(most).trim()} (gzip)${is > most ? "  TOO LARGE" : ""}`);
    failed ||= is > most;
  }
  process.exitCode = failed ? 1 : 0;
}
