// Starts the engine and says on the page what keeps it from starting; then asks for offline use.

const opening = document.getElementById("opening");

// `window.tileglow.ready` stands before the engine does, so that whoever embeds the page can await it at once.
let settle;
const early = { ready: new Promise((resolve, reject) => (settle = { resolve, reject })) };
early.ready.catch(() => {});
window.tileglow = early;

async function start() {
  // <engine> The single file (www/single.mjs) has the engine inside and replaces this part.
  const code = document.getElementById("engine-code").href;
  const wasm = document.getElementById("engine-wasm").href;
  const engine = await import(code);
  await engine.default({ module_or_path: wasm });
  // </engine>
  if (window.tileglow !== early) await window.tileglow.ready;
}

function refuse(why) {
  const place = opening?.isConnected ? opening : document.body.insertBefore(document.createElement("p"), document.body.firstChild);
  place.setAttribute("role", "alert");
  const missing = typeof WebAssembly === "undefined" ? "This browser has no WebAssembly, which Tileglow computes with." : "Tileglow could not start.";
  place.textContent = `${missing} A current Firefox, Chrome, Edge or Safari opens it; the command gives the same numbers. (${why?.message ?? why})`;
}

function keepForOffline() {
  if (!("serviceWorker" in navigator) || !window.isSecureContext || !location.protocol.startsWith("http")) return;
  // Without it the page works as before, but online only: nothing to tell.
  navigator.serviceWorker.register(new URL("offline.js", document.baseURI)).catch(() => {});
}

start().then(
  () => {
    opening?.remove();
    settle.resolve();
    keepForOffline();
  },
  (why) => {
    settle.reject(why);
    refuse(why);
    console.error(why);
  },
);
