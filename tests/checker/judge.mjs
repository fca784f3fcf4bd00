// Judges packages with the page's own core, outside a browser:
//     node judge.mjs PAGE [KEY_LIST SIGNATURE DEPOT_KEY]
// Takes a package's path a line, and answers each with one line of JSON.
import { openAsBlob, readFileSync } from "node:fs";
import { basename } from "node:path";
import { createInterface } from "node:readline";

const [page, ...depot] = process.argv.slice(2);
const [list, signature, key] = depot.map((path) => new Uint8Array(readFileSync(path)));
const trust = list ? { list, signature, key } : null;
const text = readFileSync(page, "utf8");
const start = text.indexOf(">", text.indexOf("<script")) + 1;
globalThis.self = globalThis;
(0, eval)(text.slice(start, text.indexOf("</script>")));
for await (const path of createInterface({ input: process.stdin })) {
  const file = await openAsBlob(path);
  Object.defineProperty(file, "name", { value: basename(path) });
  const told = await new Promise((resolve) => {
    self.postMessage = (message) => message.progress || resolve(message);
    self.onmessage({ data: { file, trust } });
  });
  console.log(JSON.stringify(told));
}
