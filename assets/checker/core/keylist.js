// The depot's key list: which device keys it stands behind, and from when to when.
// Read only after its signature holds; and only in the plain form in which lists
// are written, because a part of TOML read wrongly would be worse than none.

const LIST_TEXTS = { sha256: isDigest, owner: isWords, label: isWords, reason: isWords };
const LIST_TIMES = ["valid-from", "valid-until", "revoked-at"];
const LIST_NEEDED = ["sha256", "owner", "label", "valid-from", "valid-until"];

/** {depot, issued, keys, depotKey} from the three files; throws an Error naming what is wrong. */
async function openKeyList({ list, signature, key }) {
  const depotKey = readPublicKey(utf8(key));
  if (!(await signatureHolds(depotKey.raw, signature, list))) {
    throw new Error("the depot's signature does not hold for this key list");
  }
  const text = utf8(list);
  if (text === null) throw new Error("it is not UTF-8");
  return { ...readKeyList(text), depotKey };
}

function readKeyList(text) {
  const top = {};
  const keys = [];
  let table = top;
  text.split("\n").forEach((line, index) => {
    const plain = line.replace(/\r$/, "").trim();
    if (plain === "" || plain.startsWith("#")) return;
    // A list that names no key yet.
    if (table === top && /^device-keys *= *\[ *\]$/.test(plain)) return;
    if (/^\[\[ *device-keys *\]\] *(#.*)?$/.test(plain)) {
      table = {};
      keys.push(table);
      return;
    }
    const found = /^([a-z0-9-]+) *= *(.+)$/.exec(plain);
    const value = found && plainValue(found[2]);
    if (!found || value === null) throw new Error(`line ${index + 1} is not in the plain form that this page reads`);
    if (Object.hasOwn(table, found[1])) throw new Error(`line ${index + 1} says ${found[1]} again`);
    table[found[1]] = value;
  });
  refuseBadList(top, keys);
  return { depot: top.depot, issued: top["issued-at"].time, keys };
}

/** A basic string, a whole number or {time, moment} of an offset date-time; null for anything else. */
function plainValue(text) {
  const string = /^("(?:[^"\\\x00-\x1f]|\\["\\bfnrt]|\\u[0-9a-fA-F]{4})*") *(#.*)?$/.exec(text);
  if (string) return JSON.parse(string[1]);
  const bare = text.replace(/ *#.*$/, "");
  if (/^\d{1,9}$/.test(bare)) return Number(bare);
  const time = bare.toUpperCase().replace(" ", "T");
  const moment = momentOf(time);
  return moment === null ? null : { time, moment };
}

function refuseBadList(top, keys) {
  if (top.format !== 1) throw new Error("its format is not 1");
  const sound = fieldsProblem(top, ["format", "depot", "issued-at"]) === null && isWords(top.depot) && top["issued-at"].time;
  if (!sound) throw new Error("it must have format, depot and issued-at");
  keys.forEach((key, index) => {
    const names = Object.keys(key);
    const good =
      LIST_NEEDED.every((name) => names.includes(name)) &&
      names.every((name) => (LIST_TIMES.includes(name) ? key[name].time : LIST_TEXTS[name]?.(key[name])));
    if (!good) throw new Error(`device key ${index + 1} does not have the fields of a key list`);
  });
}

/** A tablet that several people carry has them all as its owner, with semicolons between. */
function isAmong(name, owners) {
  const plain = (words) => words.trim().split(/\s+/).join(" ").toLowerCase();
  return typeof name === "string" && name !== "" && owners.split(";").map(plain).includes(plain(name));
}

/** The check `key`, for a key's SHA-256 at a time. `tokenTime` is that of a time token, or null. */
function judgeKey(list, keyName, closedAt, tokenTime, technician) {
  const trusted = `signed with depot key ${sha256(list.depotKey.der).slice(0, 16)}…, the one given with it`;
  const by = `by the list of ${list.depot} issued ${list.issued} (${trusted})`;
  const key = list.keys.find((candidate) => candidate.sha256 === keyName);
  if (!key) return fails("key", `The key that sealed it is unknown, ${by}.`, [], "unknown-key");
  const whose = `The key of ${key.owner} (${key.label})`;
  const at = momentOf(closedAt);
  const revoked = key["revoked-at"];
  if (at < key["valid-from"].moment) return fails("key", `${whose} was not yet valid at ${closedAt}, ${by}.`);
  if (at >= key["valid-until"].moment) return fails("key", `${whose} was no longer valid at ${closedAt}, ${by}.`);
  const gone = revoked && `${whose} was revoked at ${revoked.time}${key.reason ? ` (${key.reason})` : ""}, ${by}`;
  if (revoked && at >= revoked.moment) return fails("key", `${gone}, before the package was sealed.`, [], "revoked-before");
  if (typeof technician === "string" && technician && !isAmong(technician, key.owner)) {
    return fails("key", `The key belongs to ${key.owner} (${key.label}), and the job's technician is ${technician}, ${by}.`, [], "other-owner");
  }
  if (!revoked) return holds("key", `${whose} was valid at ${closedAt}, ${by}.`);
  if (tokenTime !== null && tokenTime < revoked.moment) {
    return notChecked("key", `${gone}. A time token says that the seal is older; this page cannot check who issued it.`);
  }
  return fails("key", `${gone}, and nothing shows that the seal is older than that.`, [], "revoked-since");
}
