// Claims that name what was found when they do not hold.

import { isDeepStrictEqual } from "node:util";

const brief = (value) => {
  const text = typeof value === "string" ? JSON.stringify(value) : JSON.stringify(value) ?? String(value);
  return text.length > 400 ? `${text.slice(0, 400)}… (${text.length} characters)` : text;
};

/** Fails with the given words unless the condition holds. */
export function claim(condition, words) {
  if (!condition) throw new Error(words);
}

/** Fails unless both are the same, by value. */
export function same(found, wanted, what) {
  if (isDeepStrictEqual(found, wanted)) return;
  if (typeof found === "string" && typeof wanted === "string" && found.includes("\n")) {
    const [a, b] = [found.split("\n"), wanted.split("\n")];
    const line = a.findIndex((text, i) => text !== b[i]);
    if (line >= 0) throw new Error(`${what}: line ${line + 1} is ${brief(a[line])} instead of ${brief(b[line])} (${a.length} and ${b.length} lines)`);
  }
  throw new Error(`${what}: ${brief(found)} instead of ${brief(wanted)}`);
}

/** Fails unless the two differ. */
export function differ(found, before, what) {
  if (isDeepStrictEqual(found, before)) throw new Error(`${what} did not change from ${brief(before)}`);
}

/** Fails unless the text matches. */
export function matches(text, pattern, what) {
  if (!pattern.test(text ?? "")) throw new Error(`${what}: ${brief(text)} does not match ${pattern}`);
}

/** Waits until `read()` gives something true and returns it; fails with the last value read. */
export async function eventually(read, what, within_ms = 10_000) {
  const end = Date.now() + within_ms;
  for (;;) {
    const value = await read();
    if (value) return value;
    if (Date.now() > end) throw new Error(`${what}: not within ${within_ms / 1000} s (last: ${brief(value)})`);
    await new Promise((next) => setTimeout(next, 50));
  }
}

/** Rows of a CSV without quoted line ends, as objects by header. */
export function rows(csv) {
  const [header, ...lines] = csv.trimEnd().split("\n").map(cells);
  return lines.map((line) => Object.fromEntries(header.map((key, i) => [key, line[i]])));
}

function cells(line) {
  return [...line.matchAll(/(?:^|,)(?:"((?:[^"]|"")*)"|([^,]*))/g)].map((m) => (m[1] === undefined ? m[2] : m[1].replaceAll('""', '"')));
}
