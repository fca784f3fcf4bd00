// The bag: BagIt 1.0 (RFC 8493) with one way to write each file.

const BAGIT_TXT = "BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n";
const LISTED_TAGS = ["bag-info.txt", "bagit.txt", "device-key.pem", "manifest-sha256.txt"];
const UNLISTED_TAGS = ["tagmanifest-sha256.txt", "seal.json", "seal.sig", "seal.tsr", "fetch.txt", "journal-roles.jsonl"];
// What a disclosed copy may leave out; the rest of a package is about it.
const MAY_BE_WITHHELD = ["data/photos/", "data/markup/", "data/voice/", "data/report.html"];
// What names people, and is left out of a copy that has roles in their place.
const NAMING = ["data/journal.jsonl", "data/record.json", "data/report.html"];
const LARGEST_TAG = 16 * 2 ** 20;

/**
 * Judge the tag files. Returns {problems, manifest, tagManifest, withheld}: the two lists as
 * Map of path to SHA-256, or null for one that cannot be relied on to be read in one way, and
 * what a disclosed copy leaves out as Map of path to bytes.
 */
async function judgeBag(pack) {
  const problems = [];
  if ((await pack.text("bagit.txt")) !== BAGIT_TXT) {
    problems.push(pack.has("bagit.txt") ? "bagit.txt: is not that of BagIt 1.0 in UTF-8" : "bagit.txt: is missing");
  }
  if (!pack.has("device-key.pem")) problems.push("device-key.pem: is missing");
  const manifest = readManifest("manifest-sha256.txt", await pack.text("manifest-sha256.txt"), pack);
  const tagManifest = readManifest("tagmanifest-sha256.txt", await pack.text("tagmanifest-sha256.txt"), pack);
  const withRoles = pack.has("journal-roles.jsonl");
  const always = withRoles ? NAMING : ["data/report.html"];
  const withheld = pack.has("fetch.txt") || withRoles ? readFetch(await pack.text("fetch.txt"), manifest, always) : new Map();
  const info = await pack.text("bag-info.txt");
  problems.push(...infoProblems(info, pack, withheld ?? new Map()), ...fetchProblems(pack, withheld));
  problems.push(...manifest.problems, ...tagManifest.problems);
  for (const path of manifest.paths.keys()) {
    if (!path.startsWith("data/")) problems.push(`manifest-sha256.txt: lists ${shown(path)}, which is not payload`);
  }
  const tags = [...LISTED_TAGS, ...pack.names().filter((name) => HANDOVER_NAME.test(name))];
  if (tagManifest.readable && !sameNames([...tagManifest.paths.keys()], tags)) {
    problems.push(`tagmanifest-sha256.txt: must list exactly ${tags.join(", ")}`);
  }
  const told = new Map((info ?? "").split("\n").map((line) => [line.slice(0, line.indexOf(":")), line.slice(line.indexOf(":") + 2)]));
  return {
    problems,
    told,
    withheld: withheld ?? new Map(),
    manifest: manifest.readable ? manifest.paths : null,
    tagManifest: tagManifest.readable ? tagManifest.paths : null,
  };
}

function infoProblems(text, pack, withheld) {
  if (text === null) return [missingOr(pack, "bag-info.txt", "is not UTF-8")];
  const lines = text.split("\n");
  if (lines.pop() !== "") return ["bag-info.txt: its last line is cut off"];
  if (lines.some((line) => !/^[^\s:][^:\r]*: [^\r]*$/.test(line))) {
    return ["bag-info.txt: a line is not of the form Label: value"];
  }
  const sums = lines.filter((line) => line.toLowerCase().startsWith("payload-oxum:"));
  const payload = pack.names().filter((name) => name.startsWith("data/"));
  const sizes = [...payload.map((name) => pack.size(name)), ...withheld.values()];
  const wanted = `Payload-Oxum: ${sizes.reduce((sum, size) => sum + size, 0)}.${sizes.length}`;
  if (sums.length !== 1) return ["bag-info.txt: must have one Payload-Oxum"];
  if (sums[0] !== wanted) return [`bag-info.txt: says ${shown(sums[0])}, the files give ${wanted}`];
  return [];
}

/**
 * The list of RFC 8493 2.2.3, each file under its RFC 6920 name; null when it is not in order
 * or does not name those of `always`.
 */
function readFetch(text, manifest, always) {
  const lines = (text ?? "").split("\n");
  if (lines.pop() !== "" || !manifest.readable) return null;
  const withheld = new Map();
  let before = "";
  for (const line of lines) {
    const found = /^ni:\/\/\/sha-256;([\w-]{43}) (0|[1-9][0-9]{0,11}) (\S+)$/.exec(line);
    const digest = found && manifest.paths.get(found[3]);
    if (!digest || found[3] <= before || found[1] !== base64Url(digest)) return null;
    if (!always.includes(found[3]) && !MAY_BE_WITHHELD.some((start) => found[3].startsWith(start))) return null;
    withheld.set(found[3], Number(found[2]));
    before = found[3];
  }
  return always.every((name) => withheld.has(name)) ? withheld : null;
}

function base64Url(hex) {
  const bytes = hex.match(/../g).map((pair) => parseInt(pair, 16));
  return btoa(String.fromCharCode(...bytes)).replace(/\+/g, "-").replace(/\//g, "_").replace(/=/g, "");
}

function fetchProblems(pack, withheld) {
  if (!withheld) return ["fetch.txt: does not name the report and photos, drawings or notes by checksum and size, in order"];
  const there = [...withheld.keys()].filter((path) => pack.has(path));
  return there.map((path) => `${path}: is there, though it is said to be withheld`);
}

/** What bag-info says of the claim and of the depot, against the journal. */
function infoAgainstJournal(told, opened, ticket) {
  const given = { "External-Identifier": opened?.claim, "Source-Organization": ticket?.depot };
  return Object.entries(given)
    .filter(([label, value]) => told.get(label) !== (typeof value === "string" ? value.trim().split(/\s+/).join(" ") : value))
    .map(([label]) => `bag-info.txt: ${label} is not what the journal gives`);
}

function readManifest(name, text, pack) {
  const paths = new Map();
  if (text === null) return { problems: [missingOr(pack, name, "is not UTF-8")], paths, readable: false };
  const problems = [];
  const lines = text.split("\n");
  if (lines.pop() !== "") problems.push(`${name}: its last line is cut off`);
  lines.forEach((line, index) => {
    const found = /^([0-9a-f]{64}) {2}(.+)$/.exec(line);
    const say = (what) => problems.push(`${name}, line ${index + 1}: ${what}`);
    if (!found) return say("is not a SHA-256, two spaces and a path");
    const path = decodePath(found[2]);
    const wrong = nameProblem(path);
    if (wrong) return say(`the path ${shown(path)} ${wrong}`);
    if (paths.has(path)) return say(`${shown(path)} is listed twice`);
    paths.set(path, found[1]);
  });
  const readable = problems.length === 0;
  const inOrder = [...paths.keys()];
  if (inOrder.some((path, index) => index && inOrder[index - 1] > path)) {
    problems.push(`${name}: is not sorted by path`);
  }
  return { problems, paths, readable };
}

/** RFC 8493 section 2.1.3: only CR, LF and % are written with a percent sign. */
function decodePath(text) {
  return text.replace(/%(0D|0A|25)/gi, (code) => String.fromCharCode(parseInt(code.slice(1), 16)));
}

function missingOr(pack, name, wrong) {
  if (!pack.has(name)) return `${name}: is missing`;
  return `${name}: ${pack.size(name) > LARGEST_TAG ? "is too large" : wrong}`;
}

function sameNames(one, other) {
  return one.length === other.length && one.every((name) => other.includes(name));
}

/** What stands in the package and is in no list. */
function extraProblems(pack, manifest) {
  const tags = new Set([...LISTED_TAGS, ...UNLISTED_TAGS]);
  return pack
    .names()
    .filter((name) => (name.startsWith("data/") ? !manifest.has(name) : !tags.has(name) && !HANDOVER_NAME.test(name)))
    .map((name) => `${shown(name)}: does not belong to the package`);
}
