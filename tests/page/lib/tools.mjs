// The pinned Node packages, which live in www/node_modules.

import { createRequire } from "node:module";

const require = createRequire(new URL("../../../www/package.json", import.meta.url));

/** A package of www/package-lock.json by its name. */
export const tool = (name) => require(name);

/** Where a package's file lies on disk. */
export const toolFile = (name) => require.resolve(name);
