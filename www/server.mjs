// A small static server for the built page: for `www/serve.sh`, and for the tests, which also read what was asked of it.
// `node www/server.mjs FOLDER PORT` serves until it is stopped and prints the address; a busy port gives way to the next.

import { createReadStream, existsSync, statSync } from "node:fs";
import { createServer } from "node:http";
import { extname, join, normalize, resolve, sep } from "node:path";
import { pathToFileURL } from "node:url";

const TYPES = {
  ".html": "text/html; charset=utf-8",
  ".js": "text/javascript; charset=utf-8",
  ".css": "text/css; charset=utf-8",
  ".svg": "image/svg+xml",
  ".wasm": "application/wasm",
  ".json": "application/json",
  ".glb": "model/gltf-binary",
  ".csv": "text/csv; charset=utf-8",
};

/** Serves a folder on 127.0.0.1. Resolves to `{url, requests, stop}`; port 0 takes any free one. */
export function serve(folder, port = 0) {
  const root = resolve(folder);
  const requests = [];
  const server = createServer((request, response) => {
    let path = "/";
    try {
      path = decodeURIComponent(new URL(request.url, "http://localhost").pathname);
    } catch {
      response.writeHead(400).end();
      return;
    }
    requests.push(path);
    if (path.endsWith("/")) path += "index.html";
    const file = normalize(join(root, path));
    const inside = file.startsWith(root + sep) && existsSync(file) && statSync(file).isFile();
    if (!inside || (request.method !== "GET" && request.method !== "HEAD")) {
      response.writeHead(inside ? 405 : 404, { "content-type": "text/plain; charset=utf-8" }).end(inside ? "only GET\n" : "no such file\n");
      return;
    }
    response.writeHead(200, {
      "content-type": TYPES[extname(file)] ?? "application/octet-stream",
      "content-length": statSync(file).size,
      "x-content-type-options": "nosniff",
      "cache-control": "no-cache",
    });
    if (request.method === "HEAD") response.end();
    else createReadStream(file).pipe(response);
  });
  return new Promise((accept, refuse) => {
    server.once("error", refuse);
    server.listen(port, "127.0.0.1", () => {
      const stop = () => new Promise((done) => (server.closeAllConnections(), server.close(done)));
      accept({ url: `http://127.0.0.1:${server.address().port}/`, requests, stop });
    });
  });
}

if (import.meta.url === pathToFileURL(process.argv[1] ?? "").href) {
  const [folder, wanted] = [process.argv[2], Number(process.argv[3])];
  for (let port = wanted; ; port += 1) {
    try {
      const { url } = await serve(folder, port);
      console.log(`\n   Tileglow stands at ${url}\n   Stop it with Ctrl-C.\n`);
      break;
    } catch (why) {
      if (why.code !== "EADDRINUSE" || port > wanted + 50) throw why;
      console.log(`   port ${port} is taken, trying ${port + 1}`);
    }
  }
}
