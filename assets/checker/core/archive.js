// The ZIP file's own structure (PKWARE APPNOTE 6.3.10), judged before any file in
// it is read. Only the plainest form is taken, from which every tool reads the
// same content: files stored end to end, then the directory, then the end.

const MOST_FILES = 20000;
const END_SIZE = 22;
const END64_SIZE = 56;
const LOCATOR_SIZE = 20;
const LONGEST_COMMENT = 65535;
const CENTRAL_SIZE = 46;
const LOCAL_SIZE = 30;
const LONGEST_EXTRA = 32;
const ALL_ONES = 0xffffffff;
const LARGEST_PLAIN = 0x7fffffff; // what is larger is told in 64 bits
const REGULAR_FILE = 0o100644 * 65536;
const MADE_BY_UNIX = 3;

/** Something that is no package at all, so that there is nothing to judge. */
class NoPackage extends Error {}

/** An archive that is not built as it must be; `items` has a line for each fault. */
class Unsound extends Error {
  constructor(items) {
    super(items[0]);
    this.items = items;
  }
}

/**
 * The files of an archive: Map of name to {at, size} of the bytes, in directory order.
 * Throws NoPackage or Unsound.
 */
async function readArchive(file) {
  const end = await readEnd(file);
  const entries = await readDirectory(file, end);
  const problems = entries.flatMap(entryProblems);
  refuseUnsound(problems);
  refuseUnsound(twinProblems(entries.map((entry) => entry.name)));
  const tops = new Set(entries.map((entry) => entry.name.split("/")[0]));
  if (tops.size > 1) throw new Unsound(["the files do not stand below one top folder"]);
  await placeEntries(file, entries, end.directoryAt);
  const [top] = tops;
  const outside = entries.filter((entry) => !entry.name.startsWith(`${top}/`));
  refuseUnsound(outside.map((entry) => `${shown(entry.name)}: stands outside the top folder`));
  const files = new Map();
  for (const { name, dataAt, size } of entries) files.set(name.slice(top.length + 1), { at: dataAt, size });
  return { top, files };
}

function refuseUnsound(items) {
  if (items.length) throw new Unsound(items);
}

async function viewOf(file, at, length) {
  const bytes = new Uint8Array(await file.slice(at, at + length).arrayBuffer());
  return { bytes, view: new DataView(bytes.buffer) };
}

// --- the end records ---------------------------------------------------------------

async function readEnd(file) {
  if (file.size === 0) throw new NoPackage("the file is empty");
  const tailAt = Math.max(0, file.size - END_SIZE - LONGEST_COMMENT);
  const { bytes, view } = await viewOf(file, tailAt, file.size - tailAt);
  const endAt = file.size - END_SIZE;
  if (!findsEnd(view)) {
    throw new NoPackage("it is not a ZIP file, or only a part of one: its end record is missing");
  }
  const at = endAt - tailAt;
  if (view.getUint32(at, true) !== 0x06054b50) {
    throw new Unsound(["there are bytes behind the end record, or it has a comment"]);
  }
  const short = {
    disk: view.getUint16(at + 4, true),
    firstDisk: view.getUint16(at + 6, true),
    here: view.getUint16(at + 8, true),
    count: view.getUint16(at + 10, true),
    length: view.getUint32(at + 12, true),
    directoryAt: view.getUint32(at + 16, true),
  };
  if (view.getUint16(at + 20, true)) throw new Unsound(["the end record announces a comment"]);
  const is64 =
    short.here === 0xffff || short.count === 0xffff ||
    short.length === ALL_ONES || short.directoryAt === ALL_ONES ||
    (at >= LOCATOR_SIZE && view.getUint32(at - LOCATOR_SIZE, true) === 0x07064b50);
  const end = is64 ? readEnd64(bytes, at, endAt, short) : { ...short, behind: endAt };
  if (!is64 && end.directoryAt > LARGEST_PLAIN) throw new Unsound(["its 64-bit end records are missing"]);
  return soundEnd(end);
}

function findsEnd(view) {
  for (let at = view.byteLength - END_SIZE; at >= 0; at--) {
    if (view.getUint32(at, true) === 0x06054b50) return true;
  }
  return false;
}

function readEnd64(bytes, at, endAt, short) {
  const recordAt = at - LOCATOR_SIZE - END64_SIZE;
  const view = new DataView(bytes.buffer);
  const broken = new Unsound(["the 64-bit end records do not stand where they must, or contradict"]);
  if (recordAt < 0) throw broken;
  const locatorAt = at - LOCATOR_SIZE;
  const behind = endAt - LOCATOR_SIZE - END64_SIZE;
  const told = {
    here: exact64(view, recordAt + 24),
    count: exact64(view, recordAt + 32),
    length: exact64(view, recordAt + 40),
    directoryAt: exact64(view, recordAt + 48),
  };
  const sound =
    told.directoryAt > LARGEST_PLAIN &&
    view.getUint32(locatorAt, true) === 0x07064b50 &&
    view.getUint32(locatorAt + 4, true) === 0 &&
    exact64(view, locatorAt + 8) === behind &&
    view.getUint32(locatorAt + 16, true) === 1 &&
    view.getUint32(recordAt, true) === 0x06064b50 &&
    exact64(view, recordAt + 4) === 44 &&
    view.getUint16(recordAt + 12, true) === 45 &&
    view.getUint16(recordAt + 14, true) === 45 &&
    view.getUint32(recordAt + 16, true) === 0 &&
    view.getUint32(recordAt + 20, true) === 0 &&
    agrees64(short.here, told.here, 0xffff) &&
    agrees64(short.count, told.count, 0xffff) &&
    agrees64(short.length, told.length, ALL_ONES) &&
    agrees64(short.directoryAt, told.directoryAt, ALL_ONES);
  if (!sound) throw broken;
  return { ...short, ...told, behind };
}

function agrees64(short, long, ones) {
  return short === Math.min(long, ones);
}

/** A 64-bit number; NaN beyond what a double counts exactly, which agrees with nothing. */
function exact64(view, at) {
  const value = Number(view.getBigUint64(at, true));
  return Number.isSafeInteger(value) ? value : NaN;
}

function soundEnd(end) {
  if (end.disk || end.firstDisk) throw new Unsound(["it speaks of several disks"]);
  if (end.here !== end.count) throw new Unsound(["its end record counts the files in two ways"]);
  if (end.count === 0) throw new Unsound(["there are no files in it"]);
  if (end.count > MOST_FILES) {
    throw new Unsound([`it has ${end.count} files; no package has more than ${MOST_FILES}`]);
  }
  if (end.directoryAt + end.length !== end.behind) {
    throw new Unsound(["its directory does not end where the end records begin"]);
  }
  // The longest directory that the rules for one entry allow; names are judged one by one later.
  if (end.length > end.count * (CENTRAL_SIZE + 65535 * 3)) {
    throw new Unsound(["its directory is longer than its entries can be"]);
  }
  return end;
}

// --- the directory -----------------------------------------------------------------

const LARGEST_DIRECTORY = 64 * 2 ** 20;

async function readDirectory(file, end) {
  if (end.length > LARGEST_DIRECTORY) throw new Unsound(["its directory is far too long"]);
  const { bytes, view } = await viewOf(file, end.directoryAt, end.length);
  const entries = [];
  let at = 0;
  for (let index = 0; index < end.count; index++) {
    const entry = readEntry(bytes, view, at);
    if (!entry) throw new Unsound([`entry ${index + 1} of the directory is broken or missing`]);
    entries.push(entry);
    at = entry.behind;
  }
  if (at !== bytes.length) throw new Unsound(["its directory holds more than the files it counts"]);
  return entries;
}

function readEntry(bytes, view, at) {
  if (at + CENTRAL_SIZE > bytes.length || view.getUint32(at, true) !== 0x02014b50) return null;
  const nameAt = at + CENTRAL_SIZE;
  const extraAt = nameAt + view.getUint16(at + 28, true);
  const commentAt = extraAt + view.getUint16(at + 30, true);
  const behind = commentAt + view.getUint16(at + 32, true);
  if (behind > bytes.length) return null;
  const entry = {
    madeBy: view.getUint16(at + 4, true),
    version: view.getUint16(at + 6, true),
    flags: view.getUint16(at + 8, true),
    method: view.getUint16(at + 10, true),
    time: view.getUint32(at + 12, true),
    crc: view.getUint32(at + 16, true),
    stored: view.getUint32(at + 20, true),
    size: view.getUint32(at + 24, true),
    disk: view.getUint16(at + 34, true),
    internal: view.getUint16(at + 36, true),
    external: view.getUint32(at + 38, true),
    headerAt: view.getUint32(at + 42, true),
    name: latin1(bytes.subarray(nameAt, extraAt)),
    comment: behind - commentAt,
    behind,
  };
  const fields = ["size", "stored", "headerAt"];
  const asked = fields.filter((field) => entry[field] === ALL_ONES);
  entry.extraSound =
    fill64(entry, asked, bytes.subarray(extraAt, commentAt)) &&
    fields.every((field) => asked.includes(field) === entry[field] > LARGEST_PLAIN);
  entry.versionSound = entry.version === (asked.length || isWide(entry) ? 45 : 20);
  return entry;
}

/**
 * Take the 64-bit values of the fields that ask for them (APPNOTE 4.5.3). True when
 * the extra field holds these values, in this order, and nothing else.
 */
function fill64(entry, asked, extra) {
  if (extra.length !== (asked.length ? 4 + 8 * asked.length : 0)) return false;
  if (!asked.length) return true;
  const view = new DataView(extra.buffer, extra.byteOffset, extra.length);
  if (view.getUint16(0, true) !== 1 || view.getUint16(2, true) !== 8 * asked.length) return false;
  asked.forEach((field, index) => (entry[field] = exact64(view, 4 + 8 * index)));
  return asked.every((field) => Number.isSafeInteger(entry[field]));
}

/** Whether an entry has its sizes in 64 bits in its local header: a little before they must be. */
function isWide(entry) {
  return entry.size * 1.05 > LARGEST_PLAIN;
}

function entryProblems(entry) {
  const problems = [];
  const say = (what) => problems.push(`${shown(entry.name) || "(no name)"}: ${what}`);
  const wrongName = nameProblem(entry.name);
  if (wrongName) say(`the name ${wrongName}`);
  if (entry.flags) say("is encrypted, or its size or name is told elsewhere");
  if (entry.method) say("is compressed");
  if (entry.stored !== entry.size) say("has two sizes");
  if (entry.disk) say("is on another disk");
  if (entry.external !== REGULAR_FILE || entry.internal) say("is a link, a folder or another special file");
  if (!entry.versionSound) say("needs another ZIP version");
  if (entry.madeBy !== MADE_BY_UNIX * 256 + entry.version) say("was not made as the app makes it");
  if (entry.comment) say("has a comment");
  if (!entry.extraSound) say("has additional fields, or sizes that contradict each other");
  return problems;
}

// --- the files ---------------------------------------------------------------------

/** Walk the files from byte 0 to the directory; nothing may stand between, none may overlap. */
async function placeEntries(file, entries, directoryAt) {
  const inOrder = [...entries].sort((one, other) => one.headerAt - other.headerAt);
  let at = 0;
  for (const entry of inOrder) {
    const name = shown(entry.name);
    if (entry.headerAt < at) throw new Unsound([`${name}: overlaps another file`]);
    if (entry.headerAt > at) throw new Unsound([`${name}: there are bytes in front of it that belong to no file`]);
    entry.dataAt = await localEnd(file, entry, directoryAt);
    at = entry.dataAt + entry.size;
    if (at > directoryAt) throw new Unsound([`${name}: reaches into the directory`]);
  }
  if (at !== directoryAt) throw new Unsound(["there are bytes in front of the directory that belong to no file"]);
  if (inOrder.some((entry, index) => entry !== entries[index])) {
    throw new Unsound(["its directory lists the files in another order than they stand"]);
  }
}

/** Where the file's bytes begin, behind a local header that says what the directory says. */
async function localEnd(file, entry, directoryAt) {
  const name = shown(entry.name);
  if (entry.headerAt + LOCAL_SIZE + entry.name.length > directoryAt) {
    throw new Unsound([`${name}: begins behind the files`]);
  }
  const length = LOCAL_SIZE + entry.name.length + LONGEST_EXTRA;
  const { bytes, view } = await viewOf(file, entry.headerAt, length);
  const extraAt = LOCAL_SIZE + view.getUint16(26, true);
  const behind = extraAt + view.getUint16(28, true);
  if (view.getUint32(0, true) !== 0x04034b50) throw new Unsound([`${name}: there is no file in its place`]);
  const local = { stored: view.getUint32(18, true), size: view.getUint32(22, true) };
  const asked = ["size", "stored"].filter((field) => local[field] === ALL_ONES);
  const version = view.getUint16(4, true);
  const agrees =
    behind <= bytes.length &&
    fill64(local, asked, bytes.subarray(extraAt, behind)) &&
    asked.length === (isWide(entry) ? 2 : 0) &&
    version === (isWide(entry) ? 45 : 20) &&
    view.getUint16(6, true) === entry.flags &&
    view.getUint16(8, true) === entry.method &&
    view.getUint32(10, true) === entry.time &&
    view.getUint32(14, true) === entry.crc &&
    local.stored === entry.stored &&
    local.size === entry.size &&
    latin1(bytes.subarray(LOCAL_SIZE, extraAt)) === entry.name;
  if (!agrees) throw new Unsound([`${name}: what stands in front of it contradicts the directory`]);
  return entry.headerAt + behind;
}
