// Measured times beside their targets, native and browser on the same work in one run: `sh tests/bench.sh`.
//
// Engine times are the engine's own stages (`elapsed_s` of summary.json), page times the script's share of a frame.
// Each is the least of several runs, which is the time least disturbed by the rest of the machine.

import { readFileSync, writeFileSync } from "node:fs";
import { cpus } from "node:os";
import { join } from "node:path";
import { begin, Bench, call, drawn, full, native, ready, sinceStart } from "./lib/harness.mjs";
import { load, open, packed, written } from "./lib/vehicles.mjs";

const RUNS = 7;
const shared = await begin();
const bench = new Bench(shared);
console.log(`${cpus()[0]?.model.trim()}, ${cpus().length} cores; Chromium ${shared.browser.version()}, software rendering; least of ${RUNS}\n`);
try {
  await opening();
  const page = await bench.open();
  await full(page);
  await demonstration(page);
  await frames(page);
  await many();
} finally {
  await bench.end(null);
  await shared.browser.close();
  await shared.server.stop();
}

function told(what, seconds, target = "") {
  console.log(`${what.padEnd(62)}${`${(1000 * seconds).toFixed(2)} ms`.padStart(12)}   ${target}`);
}

const least = (list) => {
  const out = {};
  for (const stages of list) for (const [stage, seconds] of Object.entries(stages)) out[stage] = Math.min(out[stage] ?? Infinity, seconds);
  return out;
};

function nativeStages(folder, ...options) {
  const out = join(folder, "out");
  native("assess", ...options, "--out", out);
  return JSON.parse(readFileSync(join(out, "summary.json"), "utf8")).elapsed_s;
}

async function browserStages(page, scenario) {
  const list = [];
  for (let i = 0; i < RUNS; i += 1) {
    // Another input first, so that nothing kept from the run before answers.
    await open(page, { ...scenario, heating: { ...scenario.heating, scale: 1.01 + i / 100 } });
    const refusal = await open(page, scenario);
    if (refusal !== null) throw new Error(refusal);
    list.push((await call(page, "summary")).elapsed_s);
  }
  return least(list);
}

function compare(title, here, there, target) {
  console.log(`${title}`);
  for (const stage of Object.keys({ ...here, ...there })) {
    const [a, b] = [here[stage], there[stage]];
    const ms = (seconds) => (seconds === undefined ? "—" : `${(1000 * seconds).toFixed(2)} ms`);
    const ratio = a > 0 && b !== undefined ? (b / a).toFixed(2) : "—";
    console.log(`   ${stage.padEnd(24)} native ${ms(a).padStart(11)}   browser ${ms(b).padStart(11)}   ratio ${ratio}`);
  }
  if (target) console.log(`   target: ${target}`);
}

async function opening() {
  let first = Infinity;
  for (let i = 0; i < 3; i += 1) {
    const page = await bench.tab();
    await page.goto(shared.server.url);
    await ready(page);
    first = Math.min(first, await sinceStart(page));
    await page.context().close();
    bench.contexts.pop();
  }
  told("opening: first picture and first full results", first / 1000, "first picture ≤ 1 s");
}

async function demonstration(page) {
  const folder = bench.folder();
  const scenario = await call(page, "scenario");
  writeFileSync(join(folder, "scenario.json"), JSON.stringify(scenario));
  const here = least(Array.from({ length: RUNS }, () => nativeStages(folder, "--scenario", join(folder, "scenario.json"))));
  compare("the demonstration, all its entries", here, await browserStages(page, scenario), "equilibrium over a 300-sample entry ≤ 30 ms in the browser on one thread; browser ≤ 1.5 times native");
}

/** Script time of what follows an action: the event's handlers and the frames after it, without the browser's own drawing. */
async function scriptOf(page, selector, act) {
  await page.evaluate(() => {
    if (window.spent) return;
    window.spent = [];
    const plain = window.requestAnimationFrame.bind(window);
    window.requestAnimationFrame = (run) => plain((time) => {
      const began = performance.now();
      run(time);
      window.spent.push(performance.now() - began);
    });
  });
  return page.evaluate(async ([selector, act]) => {
    const frame = () => new Promise((done) => requestAnimationFrame(done));
    await frame();
    await frame();
    window.spent.length = 0;
    const target = document.querySelector(selector);
    const began = performance.now();
    if (act === "click") target.click();
    else target.dispatchEvent(new KeyboardEvent("keydown", { key: act, bubbles: true }));
    const handlers = performance.now() - began;
    await frame();
    const frames = window.spent.reduce((sum, ms) => sum + ms, 0);
    return { handlers, frames };
  }, [selector, act]);
}

async function frames(page) {
  const run = async (what, target, steps) => {
    let low = Infinity;
    for (let i = 0; i < RUNS; i += 1) {
      for (const [selector, act, counts] of steps) {
        const { handlers, frames } = await scriptOf(page, selector, act);
        if (counts) low = Math.min(low, handlers + frames);
        await full(page);
      }
    }
    told(what, low / 1000, target);
  };
  await run("colour choice: handlers and the next frame, panels included", "recolour ≤ 1 ms", [["[data-colour='surface']", "click", false], ["[data-colour='margin']", "click", true]]);
  await page.click("[data-colour='surface']");
  await run("a slider's step: handlers and the next frame", "the picture of the shown moment in the same frame", [["[data-input='heating.scale'] [role=slider]", "ArrowRight", true]]);
  let low = Infinity;
  for (let i = 0; i < RUNS; i += 1) {
    const ms = await page.evaluate(async () => {
      const began = performance.now();
      document.querySelector("[data-input='heating.scale'] [role=slider]").dispatchEvent(new KeyboardEvent("keydown", { key: "ArrowLeft", bubbles: true }));
      await new Promise((done) => requestAnimationFrame(done));
      while (document.body.dataset.full !== "1") await new Promise((done) => setTimeout(done));
      return performance.now() - began;
    });
    low = Math.min(low, ms);
  }
  told("a slider's step: until the peaks of all tiles stand", low / 1000, "≤ 50 ms");
  await drawn(page);
  const box = await page.locator("#shield").boundingBox();
  const pick = await page.evaluate(([w, h]) => {
    const points = Array.from({ length: 400 }, (_, i) => [(w * ((i * 37) % 400)) / 400, (h * i) / 400]);
    const began = performance.now();
    for (const [px, py] of points) window.tileglow.tileAt(px, py);
    return (performance.now() - began) / points.length;
  }, [box.width, box.height]);
  told("pick: tileAt, mean of 400 points", pick / 1000, "≤ 1 ms");
}

/** A plate of 30,000 tiles at one flight point. */
async function many() {
  const [across, along] = [150, 200];
  const obj = [];
  const table = ["tile,material,thickness_mm,zone"];
  for (let i = 0; i < across * along; i += 1) {
    const [x, y] = [1 + 0.05 * Math.floor(i / across), 0.05 * ((i % across) - across / 2)];
    obj.push(`g T${i}`, ...[[0, 0], [0.049, 0], [0.049, 0.049], [0, 0.049]].map(([dx, dy]) => `v ${(x + dx).toFixed(4)} ${(y + dy).toFixed(4)} ${(-0.03 * (x + dx) - 0.001 * Math.abs(y + dy)).toFixed(6)}`), `f ${4 * i + 1} ${4 * i + 4} ${4 * i + 3} ${4 * i + 2}`);
    table.push(`T${i},LI-900,${20 + (i % 60)},plate`);
  }
  const folder = written(join(bench.folder(), "many"), { "vehicle.obj": `${obj.join("\n")}\n`, "tiles.csv": `${table.join("\n")}\n` });
  const page = await bench.open();
  const refusal = await load(page, packed(folder));
  if (refusal !== null) throw new Error(refusal);
  const scenario = await call(page, "scenario");
  scenario.entries = [{ name: "one point", entry: { format: "tileglow-trajectory/1", nose_radius_m: 1, time_s: [0], altitude_m: [71000], speed_m_s: [6500], angle_of_attack_deg: [40] }, transition: null }];
  writeFileSync(join(folder, "..", "scenario.json"), JSON.stringify(scenario));
  const outs = bench.folder();
  const here = least(Array.from({ length: RUNS }, () => nativeStages(outs, "--vehicle", folder, "--scenario", join(folder, "..", "scenario.json"))));
  compare("30,000 tiles at one flight point", here, await browserStages(page, scenario), "equilibrium ≤ 16 ms in the browser");
}
