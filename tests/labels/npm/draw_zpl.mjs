// Draws ZPL with zpl-renderer-js, a reader of the language that has nothing of ours in it.
//
// Standard input: a JSON list of {"zpl": text, "width": mm, "height": mm, "dots": dots a mm}.
// Standard output: a JSON list, for each of them the list of its labels as base64 PNG.
import { readFileSync } from "node:fs";
import { ready } from "zpl-renderer-js";

const jobs = JSON.parse(readFileSync(0, "utf-8"));
const { api } = await ready;
const drawn = [];
for (const { zpl, width, height, dots } of jobs) {
  drawn.push(await api.zplToBase64MultipleAsync(zpl, width, height, dots));
}
// The renderer's WASM keeps the process alive.
process.stdout.write(JSON.stringify(drawn), () => process.exit(0));
