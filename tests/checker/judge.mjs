// Judges packages with the page's own core, outside a browser: node judge.mjs PAGE PACKAGE...
// One line of JSON for each package.
import { openAsBlob, readFileSync } from "node:fs";
import { basename } from "node:path";

const [page, ...packages] = process.argv.slice(2);
const text = readFileSync(page, "utf8");
const start = text.indexOf(">", text.indexOf("<script")) + 1;
globalThis.self = globalThis;
(0, eval)(text.slice(start, text.indexOf("</script>")));
for (const path of packages) {
  const file = await openAsBlob(path);
  Object.defineProperty(file, "name", { value: basename(path) });
  const told = await new Promise((resolve) => {
    self.postMessage = (message) => message.progress || resolve(message);
    self.onmessage({ data: { file, trust: null } });
  });
  console.log(JSON.stringify(told));
}
