// The result in plain words: the overall line, what the package says of itself, altered
// files, every check, every file.

const FILES_SHOWN = 200;

function showResult(result, file, reportIsPlain) {
  const practice = result.failed.includes("practice");
  const sections = [overallPart(result, practice)];
  if (result.altered.length) sections.push(alteredPart(result.altered));
  if (result.facts) sections.push(factsPart(result));
  if (result.checks.length) sections.push(checksPart(result.checks));
  if (result.files.length) sections.push(reportPart(result, file, reportIsPlain), ...mediaParts(result, file), filesPart(result.files));
  byId("result").replaceChildren(...sections);
  byId("result").hidden = false;
  byId("overall").focus();
}

const VERDICT_TITLES = {
  holds: "Nothing was found to fail",
  fails: "Something fails",
  "not checked": "The seal was not checked",
  unreadable: "Not a package",
};

function titleOf(result, onlyPractice) {
  if (onlyPractice) return "A rehearsal";
  return result.withheld.length && !result.failed.length ? "A disclosed copy" : VERDICT_TITLES[result.verdict];
}

function overallPart(result, practice) {
  const onlyPractice = practice && result.failed.length === 1;
  const save = make("button", { type: "button" }, "Save the result");
  save.addEventListener("click", () => saveResult(result));
  const print = make("button", { type: "button" }, "Print");
  print.addEventListener("click", () => window.print());
  return make("section", { id: "overall", class: `verdict ${result.verdict.replace(" ", "-")}`, tabIndex: -1, "aria-labelledby": "overall-title" },
    practice ? make("p", { class: "practice" }, "PRACTICE, never evidence") : null,
    make("p", { class: "quiet" }, "Package ", quoted(result.package)),
    make("h2", { id: "overall-title" }, titleOf(result, onlyPractice)),
    make("p", { class: "lead" }, result.overall),
    make("p", { class: "quiet" }, `Checked ${new Date().toLocaleString("en-GB")} by this computer's clock.`),
    make("p", { class: "actions" }, print, save));
}

function saveResult(result) {
  const blob = new Blob([JSON.stringify(result, null, 2)], { type: "application/json" });
  const link = make("a", { href: URL.createObjectURL(blob), download: `${result.top || "package"}-check.json` });
  link.click();
  URL.revokeObjectURL(link.href);
}

function alteredPart(altered) {
  const boxes = altered.slice(0, FILES_SHOWN).map(({ path, step, expected, found }) =>
    make("article", { class: "altered" },
      make("h3", {}, quoted(path)),
      make("p", {}, step ? "Belongs to the step " : "Belongs to no step", step ? make("b", {}, quoted(step)) : null),
      make("dl", { class: "sums" },
        make("div", {}, make("dt", {}, "Expected SHA-256"), make("dd", {}, sum(expected))),
        make("div", {}, make("dt", {}, "Found SHA-256"), make("dd", {}, found === null ? "The file is missing." : sum(found))))));
  return part("altered", "Altered or missing files", ...boxes, more(altered.length, boxes.length));
}

function more(all, told) {
  return all > told ? make("p", {}, `And ${all - told} more.`) : null;
}

/** A checksum in groups of eight, which people can compare. */
function sum(digest) {
  return make("code", { class: "sum" }, ...digest.match(/.{8}/g).map((group) => make("span", {}, group)));
}

function factsPart({ facts, failed }) {
  const rows = [
    ["Claim", facts.claim],
    ["Serial number", facts.serial],
    ["Outcome", facts.outcome],
    ["Technician", facts.technician],
    ["Step list", facts.step_list],
    ["First event", facts.opened_at],
    ["Last event", facts.closed_at],
    ["Events", facts.events],
    ["Fingerprint", make("code", { class: "fingerprint" }, facts.fingerprint)],
    ["Sealing key, SHA-256", sum(facts.device_key_sha256)],
  ].filter(([, value]) => value !== null);
  const doubt = failed.some((name) => name !== "practice");
  return part("facts", "What the package says",
    make("p", { class: "quiet" }, doubt
      ? "Because a check fails, this may not be what was sealed."
      : "Taken from its seal. Compare claim, serial number and fingerprint with what you hold."),
    make("dl", { class: "facts" }, ...rows.map(([name, value]) =>
      make("div", {}, make("dt", {}, name), make("dd", {}, value instanceof Node ? value : quoted(value))))));
}

function mark(outcome) {
  return make("span", { class: `mark ${outcome.replace(" ", "-")}` }, outcome);
}

function checksPart(checks) {
  const rows = checks.map(({ name, outcome, sentence, items }) =>
    make("li", { class: outcome.replace(" ", "-") },
      mark(outcome),
      make("div", {},
        make("h3", {}, CHECK_LABELS[name], make("span", { class: "name" }, ` ${name}`)),
        make("p", {}, quoted(sentence)),
        items.length ? make("ul", {}, ...items.slice(0, MOST_ITEMS).map((item) => make("li", {}, quoted(item))), more(items.length, MOST_ITEMS)) : null)));
  return part("checks", "The checks", make("ol", { class: "checks", role: "list" }, ...rows));
}

function filesPart(files) {
  const body = make("tbody");
  const worst = [...files].sort((one, other) => (other.outcome === FAILS) - (one.outcome === FAILS));
  const fill = (count) => body.append(...worst.slice(body.rows.length, count).map(fileRow));
  fill(FILES_SHOWN);
  const head = make("tr", {}, ...["Outcome", "File", "Step", "Size", "SHA-256 found"].map((name) => make("th", { scope: "col" }, name)));
  const table = make("table", {}, make("thead", {}, head), body);
  const rest = make("button", { type: "button" }, `Show all ${files.length} files`);
  rest.addEventListener("click", () => {
    fill(files.length);
    rest.remove();
  });
  return part("files", `The ${files.length} files`,
    make("div", { class: "wide", tabIndex: 0, role: "region", "aria-labelledby": "files-title" }, table),
    files.length > FILES_SHOWN ? make("p", {}, rest) : null);
}

function fileRow({ path, step, size, sha256: digest, outcome }) {
  return make("tr", {},
    make("td", {}, mark(outcome)),
    make("th", { scope: "row" }, quoted(path)),
    make("td", {}, step ? quoted(step) : "none"),
    make("td", { class: "number" }, sizeWords(size)),
    make("td", {}, sum(digest)));
}
