// The seal: seal.json, its signature, and whether each thing it says is what the
// other files give.

const SEAL_FORMAT = "evidence-seal/1";
const SEAL_TEXTS = ["format", "app", "job", "claim", "serial", "outcome", "opened_at", "closed_at", "fingerprint"];
const SEAL_DIGESTS = ["journal_head", "payload_manifest_sha256", "tag_manifest_sha256", "device_key_sha256"];
const SEAL_FIELDS = [...SEAL_TEXTS, ...SEAL_DIGESTS, "practice", "step_list", "events"];
const BASE32 = "ABCDEFGHIJKLMNOPQRSTUVWXYZ234567";

/**
 * Judge the seal. `journal` is what could be read of the journal. Returns
 * {problems, unsupported, seal, keyName}; `seal` is null when it cannot be read.
 */
async function judgeSeal(pack, journal) {
  const problems = [];
  const bytes = await pack.bytes("seal.json");
  const seal = bytes ? readSeal(bytes, problems) : null;
  if (!bytes) problems.push(missingOr(pack, "seal.json", "cannot be read"));
  const key = await deviceKey(pack, problems);
  const keyName = key && sha256(key.der);
  const unsupported = await judgeSignature(pack, key, bytes, problems);
  if (seal) {
    await compareFiles(pack, seal, keyName, problems);
    compareJournal(seal, journal, problems);
    if (pack.top !== topFolderName(seal.claim, seal.job)) {
      problems.push(`the top folder is called ${shown(pack.top)}, the seal gives ${topFolderName(seal.claim, seal.job)}`);
    }
  }
  return { problems, unsupported, seal, keyName };
}

function readSeal(bytes, problems) {
  let seal;
  try {
    seal = readCanonical(bytes);
  } catch (error) {
    problems.push(`seal.json: ${error.message}`);
    return null;
  }
  if (isObject(seal) && typeof seal.format === "string" && seal.format !== SEAL_FORMAT) {
    problems.push(`seal.json: has the format ${shown(seal.format)}, perhaps a newer one; this page knows ${SEAL_FORMAT}`);
    return null;
  }
  const wrong = sealFormProblem(seal);
  if (wrong) problems.push(`seal.json: ${wrong}`);
  return wrong ? null : seal;
}

function sealFormProblem(seal) {
  const fields = fieldsProblem(seal, SEAL_FIELDS);
  if (fields) return fields;
  const list = seal.step_list;
  const sound =
    SEAL_TEXTS.every((name) => typeof seal[name] === "string") &&
    SEAL_DIGESTS.every((name) => isDigest(seal[name])) &&
    typeof seal.practice === "boolean" &&
    isCount(seal.events) &&
    fieldsProblem(list, ["id", "version", "sha256"]) === null &&
    typeof list.id === "string" && typeof list.version === "string" && isDigest(list.sha256);
  return sound ? null : "a field does not have the form that the format asks for";
}

async function deviceKey(pack, problems) {
  try {
    const text = await pack.text("device-key.pem");
    if (text === null) throw new Error("it is missing");
    return readPublicKey(text);
  } catch (error) {
    problems.push(`device-key.pem: ${error.message}`);
    return null;
  }
}

async function judgeSignature(pack, key, sealBytes, problems) {
  const signature = await pack.bytes("seal.sig");
  if (!signature) problems.push(missingOr(pack, "seal.sig", "cannot be read"));
  if (!signature || !key || !sealBytes) return false;
  if (signature.length !== 64) {
    problems.push(`seal.sig: has ${signature.length} bytes, a signature has 64`);
    return false;
  }
  try {
    if (!(await signatureHolds(key.raw, signature, sealBytes))) {
      problems.push("seal.sig: the signature does not hold for seal.json under device-key.pem");
    }
    return false;
  } catch (error) {
    if (error instanceof NotSupported) return true;
    throw error;
  }
}

async function compareFiles(pack, seal, keyName, problems) {
  const said = [
    ["payload_manifest_sha256", "manifest-sha256.txt", await digestOf(pack, "manifest-sha256.txt")],
    ["tag_manifest_sha256", "tagmanifest-sha256.txt", await digestOf(pack, "tagmanifest-sha256.txt")],
    ["device_key_sha256", "device-key.pem", keyName],
  ];
  for (const [field, name, found] of said) {
    if (found !== null && found !== seal[field]) problems.push(`${name}: is not the one that was sealed`);
    if (found === null && !pack.has(name)) problems.push(`${name}: was sealed and is missing`);
  }
  if (fingerprintOf(seal.journal_head, seal.device_key_sha256) !== seal.fingerprint) {
    problems.push("the fingerprint in the seal does not follow from journal and key");
  }
}

async function digestOf(pack, name) {
  return pack.has(name) ? hashBlob(pack.blob(name)) : null;
}

/** Compare with the journal as far as it can be read; its own soundness is another check. */
function compareJournal(seal, journal, problems) {
  const compare = (field, found) => {
    // What the journal does not say is not what was sealed either.
    const told = canonical(found ?? null);
    if (told !== canonical(seal[field])) problems.push(`the seal says ${field} ${shown(canonical(seal[field]))}, the journal ${shown(told)}`);
  };
  for (const [field, found] of Object.entries(journal.toCompare())) compare(field, found);
}

/** First 100 bits of a SHA-256 in Base32 (RFC 4648 section 6), five groups of four. */
function fingerprintOf(head, keyName) {
  const text = `evidence-app fingerprint 1\n${head}\n${keyName}\n`;
  const bits = BigInt(`0x${sha256(new TextEncoder().encode(text))}`) >> 156n;
  let letters = "";
  for (let shift = 95n; shift >= 0n; shift -= 5n) letters += BASE32[Number((bits >> shift) & 31n)];
  return letters.match(/.{4}/g).join("-");
}
