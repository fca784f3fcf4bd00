// A tablet's new key, signed over by the one before it: handover-1.json with its signature,
// and so on, oldest first. A chain makes no key known by itself: it must come from a listed one.

const HANDOVER_FORMAT = "evidence-handover/1";
const HANDOVER_NAME = /^handover-[1-9]\.(json|sig)$/;
const MOST_HANDOVERS = 9;
const LARGEST_HANDOVER = 64 * 1024;

/** The links {old, new, at, reason, moment}, oldest first; throws an Error when the chain does not hold. */
async function readHandovers(pack, keyName) {
  const found = pack.names().filter((name) => HANDOVER_NAME.test(name));
  const links = [];
  for (let number = 1; number <= Math.ceil(found.length / 2); number++) {
    const [name, beside] = [`handover-${number}.json`, `handover-${number}.sig`];
    const bytes = await pack.bytes(name, LARGEST_HANDOVER);
    const signature = await pack.bytes(beside, LARGEST_HANDOVER);
    if (!bytes || !signature) throw new Error(`${bytes ? beside : name} is missing or too large`);
    const problem = await takeHandover(links, bytes, signature);
    if (problem) throw new Error(`${name}: ${problem}`);
  }
  const last = links.at(-1);
  if (last && (last.new !== keyName || links.length > MOST_HANDOVERS)) throw new Error("the last handover does not lead to the key used");
  return links;
}

/** Add one link, or say what is wrong with it. */
async function takeHandover(links, bytes, signature) {
  const told = readCanonical(bytes);
  const wrong = fieldsProblem(told, ["format", "old_key", "new_key", "at", "reason"]);
  if (wrong) return wrong;
  if (told.format !== HANDOVER_FORMAT) return "its format is unknown";
  const [oldKey, newKey] = [told.old_key, told.new_key].map(namedKey);
  const link = { old: sha256(oldKey.der), new: sha256(newKey.der), at: told.at, reason: told.reason };
  link.moment = momentOf(told.at);
  if (link.moment === null || !isWords(told.reason, 4000)) return "its time or reason does not have its form";
  if (!(await signatureHolds(oldKey.raw, signature, bytes))) return "the old key's signature does not hold";
  const before = links.map((each) => each.old);
  if (before.includes(link.old)) return `key ${link.old.slice(0, 16)}… hands over a second time`;
  const last = links.at(-1);
  if (last && link.old !== last.new) return "is not by the key that the handover before it names";
  if ([link.old, ...before].includes(link.new)) return `hands back to key ${link.new.slice(0, 16)}…, which handed over`;
  if (last && link.moment < last.moment) return `is of ${told.at}, earlier than the handover before it`;
  links.push(link);
  return null;
}

/** The key in the base64 of its DER form, as in the one line of a PEM file. */
function namedKey(text) {
  if (typeof text !== "string" || !/^[A-Za-z0-9+/]{58}[AEIMQUYcgkosw048]=$/.test(text)) throw new Error("a key is not in its form");
  return readPublicKey(`-----BEGIN PUBLIC KEY-----\n${text}\n-----END PUBLIC KEY-----\n`);
}

/**
 * The check `key`, for a key to which handovers may lead. The newest listed key of the chain
 * decides; it must be good both when the job was closed and when it handed over.
 */
function judgeKeyOf(list, links, keyName, closedAt, tokenTime, technician) {
  const judge = (name, at) => judgeKey(list, name, at, tokenTime, technician);
  const passesOn = (name, at) => {
    const key = list.keys.find((candidate) => candidate.sha256 === name);
    const gone = key?.["revoked-at"] && key["revoked-at"].moment <= at;
    return !key || (!gone && at < key["valid-from"].moment);
  };
  const items = links.map((each) => `key ${each.old.slice(0, 16)}… handed over to key ${each.new.slice(0, 16)}… at ${each.at}: ${each.reason}`);
  const closed = momentOf(closedAt);
  let best = judge(keyName, closedAt);
  let open = passesOn(keyName, closed);
  for (const link of [...links].reverse()) {
    if (!open) break;
    const times = link.moment < closed ? [link.at, closedAt] : [closedAt, link.at];
    const judgedAt = times.map((time) => judge(link.old, time));
    // What can only be said at the end is said of the later time.
    const early = judgedAt.find((each) => each.outcome === FAILS && !["revoked-since", "other-owner"].includes(each.code));
    const decided = early ?? judgedAt[1];
    open = times.some((time) => passesOn(link.old, momentOf(time)));
    const key = list.keys.find((candidate) => candidate.sha256 === link.old);
    if (!key) continue;
    const how = `Sealed with key ${keyName.slice(0, 16)}…, to which key ${link.old.slice(0, 16)}…, listed as that of ${key.owner} (${key.label}), handed over at ${link.at} (${link.reason})`;
    best = { ...decided, sentence: `${how}: ${decided.sentence}` };
  }
  return { ...best, items: [...items, ...best.items] };
}
