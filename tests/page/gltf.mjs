// Holds a GLB against the Khronos glTF validator: `node tests/page/gltf.mjs FILE.glb…` fails on an error or a warning.

import { readFileSync } from "node:fs";
import { tool } from "./lib/tools.mjs";

const validator = tool("gltf-validator");
let failed = process.argv.length < 3;
for (const path of process.argv.slice(2)) {
  let report;
  try {
    report = await validator.validateBytes(new Uint8Array(readFileSync(path)), { uri: path, maxIssues: 100 });
  } catch (why) {
    console.log(`${path}: ${why?.message ?? why}`);
    failed = true;
    continue;
  }
  const { numErrors, numWarnings, numInfos, numHints, messages } = report.issues;
  for (const { severity, code, message, pointer } of messages) if (severity < 3) console.log(`${["error", "warning", "note"][severity]}: ${code} ${pointer ?? ""}: ${message}`);
  console.log(`${path}: ${numErrors} errors, ${numWarnings} warnings, ${numInfos} notes, ${numHints} hints (glTF validator ${report.validatorVersion})`);
  console.log(`   ${report.info.totalVertexCount} vertices, ${report.info.totalTriangleCount} triangles, extensions: ${(report.info.extensionsUsed ?? []).join(", ") || "none"}`);
  failed ||= numErrors > 0 || numWarnings > 0;
}
process.exitCode = failed ? 1 : 0;
