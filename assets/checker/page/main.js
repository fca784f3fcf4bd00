// What people do on the page: give files, stop, look at the result.

const TRUST_FILES = { list: /\.toml$/i, signature: /\.sig$/i, key: /\.pem$/i };
const given = { package: null, trust: null };
let running = null;

function startPage(script) {
  // For anybody who wants to hold the page's parts against published values.
  window.checkerParts = { Sha256, sha256, toHex, hashInPieces, hashBlob, canonical, readCanonical, readPublicKey,
    hasSmallOrder, signatureHolds, fingerprintOf, momentOf, readKeyList, readToken, reportProblems, decodePath,
    checkWords: { labels: CHECK_LABELS, meanings: CONSEQUENCE, meaningsByCode: CONSEQUENCE_BY_CODE }, portableName };
  window.checkResult = null;
  byId("package").addEventListener("change", (event) => take([...event.target.files], event.target, script));
  byId("keys").addEventListener("change", (event) => take([...event.target.files], event.target, script));
  byId("stop").addEventListener("click", stop);
  for (const kind of ["dragenter", "dragover", "dragleave", "drop"]) document.addEventListener(kind, (event) => dragged(event, script));
  tellBrowser();
}

async function tellBrowser() {
  if (await knowsEd25519()) return;
  byId("browser").textContent =
    "This browser cannot check Ed25519 signatures. Everything but the seal can be checked here; for the seal use a newer browser.";
  byId("browser").hidden = false;
}

function dragged(event, script) {
  event.preventDefault();
  byId("drop").classList.toggle("over", event.type === "dragenter" || event.type === "dragover");
  if (event.type === "drop") take([...event.dataTransfer.files], null, script);
}

/** Files that were dropped or chosen: one package, the key list's three files, or both. */
async function take(files, input, script) {
  if (input) input.value = "";
  say("");
  const rest = files.filter((file) => !isTrustFile(file));
  if (rest.length > 1) return say("Give one package at a time.");
  if (files.length > rest.length && !(await takeTrust(files.filter(isTrustFile)))) return;
  if (rest.length) given.package = rest[0];
  if (given.package) run(script);
}

function isTrustFile(file) {
  return Object.values(TRUST_FILES).some((pattern) => pattern.test(file.name));
}

const LARGEST_TRUST_FILE = 4 * 2 ** 20;

async function takeTrust(files) {
  const trust = {};
  for (const [role, pattern] of Object.entries(TRUST_FILES)) {
    const fitting = files.filter((file) => pattern.test(file.name));
    if (fitting.length !== 1 || fitting[0].size > LARGEST_TRUST_FILE) {
      say("Give the depot's three files together: key-list.toml, key-list.toml.sig and depot-key.pem.");
      return false;
    }
    trust[role] = new Uint8Array(await fitting[0].arrayBuffer());
  }
  given.trust = trust;
  byId("keys-given").textContent = `Key list given: ${files.map((file) => file.name).join(", ")}.`;
  return true;
}

function run(script) {
  stop();
  say("");
  const file = given.package;
  forgetAddresses();
  window.checkResult = null;
  byId("result").hidden = true;
  byId("result").replaceChildren();
  byId("given").textContent = `${file.name}, ${sizeWords(file.size)}`;
  byId("working").hidden = false;
  showProgress({ done: 0, total: 1, words: "Reading" });
  running = startWork(script, file, given.trust, {
    progress: showProgress,
    result: (result) => finish(result, file),
    failure: (failure) => finish(unreadFile(file, failure), file),
  });
}

/** Check in a background worker where the browser allows one, otherwise on the page itself. */
function startWork(script, file, trust, answer) {
  let worker;
  let heard = false;
  let stopped = false;
  const here = () =>
    checkPackage(file, trust, (done, total, words) => stopped || answer.progress({ done, total, words }))
      .then((result) => stopped || answer.result(result), (failure) => stopped || answer.failure(failure));
  const address = URL.createObjectURL(new Blob([script], { type: "text/javascript" }));
  try {
    worker = new Worker(address);
  } catch {
    URL.revokeObjectURL(address);
    here();
    return { stop: () => (stopped = true) };
  }
  worker.onmessage = ({ data }) => {
    if (!heard) URL.revokeObjectURL(address);
    heard = true;
    for (const [kind, content] of Object.entries(data)) answer[kind](content);
  };
  worker.onerror = (event) => {
    event.preventDefault();
    worker.terminate();
    if (!heard) here();
    else answer.failure({ name: "Error", message: event.message });
  };
  worker.postMessage({ file, trust });
  return {
    stop: () => {
      stopped = true;
      worker.terminate();
    },
  };
}

function stop() {
  if (!running) return;
  running.stop();
  running = null;
  byId("working").hidden = true;
  say("Checking was stopped. Nothing was judged.");
}

function showProgress({ done, total, words }) {
  byId("working-bar").value = total ? done / total : 1;
  const amount = total > 1 ? `: ${sizeWords(done)} of ${sizeWords(total)}` : "";
  byId("working-words").textContent = `${words}${amount}`;
}

async function finish(result, file) {
  const mine = running;
  let reportIsPlain = false;
  try {
    reportIsPlain = await judgeReport(result, file);
    await judgeReasons(result, file);
  } catch (failure) {
    result = unreadFile(file, failure);
  }
  if (running !== mine) return;
  running.stop();
  running = null;
  byId("working").hidden = true;
  showResult(result, file, reportIsPlain);
  window.checkResult = result;
}

/** The file could not be read to its end, or the page met something that it does not expect. */
function unreadFile(file, failure) {
  const result = emptyResult(file);
  const why = ["NotReadableError", "NotFoundError"].includes(failure.name)
    ? "it could not be read to its end; it was changed, moved, or its disk was taken out"
    : `this page met something unforeseen in it (${shown(failure.message)})`;
  return unreadable(result, why);
}
