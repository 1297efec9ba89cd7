// Holds a GLB against the Khronos glTF validator: `node validate_glb.mjs FILE`. Exit code 1 with any error or warning.
// The validator is found in NODE_MODULES (a folder), else beside this file as usual.
import { readFileSync } from "node:fs";
import { createRequire } from "node:module";
import { join } from "node:path";

const file = process.argv[2];
if (!file) {
  console.error("error: no file; accepted: node validate_glb.mjs FILE");
  process.exit(2);
}
const folder = process.env.NODE_MODULES;
const require = createRequire(folder ? join(folder, "x.js") : import.meta.url);
const validator = require(folder ? join(folder, "gltf-validator") : "gltf-validator");
const report = await validator.validateBytes(new Uint8Array(readFileSync(file)), { maxIssues: 100 });
const { numErrors, numWarnings, numInfos, messages } = report.issues;
const counts = {};
for (const message of messages) counts[message.code] = (counts[message.code] ?? 0) + 1;
console.log(`${file}: ${numErrors} errors, ${numWarnings} warnings, ${numInfos} notes`, counts);
for (const message of messages.filter((m) => m.severity < 2)) console.log(`${message.code} at ${message.pointer}: ${message.message}`);
process.exit(numErrors + numWarnings > 0 ? 1 : 0);
