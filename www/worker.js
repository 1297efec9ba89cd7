// One worker of the page: its own copy of the engine, which solves the slices of tiles that the page hands it.
// Nothing is shared with the page: inputs come as messages, results go back as transferred numbers, each with its revision.

let solver = null;
// One message after the other, also while the engine is still being made.
let chain = Promise.resolve();

async function take(message) {
  if (message.kind === "start") {
    const engine = await import(message.code);
    await engine.default({ module_or_path: message.module });
    solver = new engine.Solver();
    return postMessage({ kind: "ready" });
  }
  if (message.kind === "vehicle") {
    solver.vehicle(message.name, message.files);
    return postMessage({ kind: "took" });
  }
  if (message.kind === "scenario") {
    solver.scenario(message.revision, message.text);
    return postMessage({ kind: "took" });
  }
  if (message.kind !== "slice") return;
  const began = performance.now();
  const values = solver.slice(message.revision, message.round, message.tiles, message.known);
  postMessage({ kind: "slice", values, ms: performance.now() - began }, [values.buffer]);
}

self.onmessage = ({ data }) => {
  chain = chain.then(() => take(data)).catch((why) => postMessage({ kind: "failed", why: String(why?.message ?? why) }));
};
