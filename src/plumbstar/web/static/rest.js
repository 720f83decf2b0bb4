// The pages on which nobody lands: they come after the first drawing (awaited.js).

import * as log from "./log.js";
import * as mend from "./mend.js";
import * as seen from "./seenlog.js";

/** @type {Record<"log" | "mend" | "seen", { view: (state: Picture) => Kids; live: (state: Picture) => void }>} */
export const pages = { log, mend, seen };
