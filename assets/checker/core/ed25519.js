// Ed25519 signatures (RFC 8032) through WebCrypto, with what it may leave out.

// DER in front of the 32 bytes of an Ed25519 SubjectPublicKeyInfo (RFC 8410 section 4).
const SPKI_PREFIX = "302a300506032b6570032100";

// Order of the base point (RFC 8032 section 5.1), least byte first as in a signature.
const GROUP_ORDER = 2n ** 252n + 27742317777372353535851937790883648493n;
const FIELD_PRIME = 2n ** 255n - 19n;

// y of the points whose order divides 8: 1, -1, 0 and the two of order 8. Under a
// key like that a signature which anybody can write passes for any bytes.
const ORDER_EIGHT_Y = 0x7a03ac9277fdc74ec6cc392cfa53202a0f67100d760b3cba4fd84d3d706a17c7n;
const SMALL_ORDER_Y = new Set([1n, FIELD_PRIME - 1n, 0n, ORDER_EIGHT_Y, FIELD_PRIME - ORDER_EIGHT_Y]);

class NotSupported extends Error {}

/** {raw, der} of the one Ed25519 public key in a PEM file; throws an Error saying what is wrong. */
function readPublicKey(pem) {
  const found = /^-----BEGIN PUBLIC KEY-----\n([A-Za-z0-9+/=\n]+)\n-----END PUBLIC KEY-----\n$/.exec(pem || "");
  const der = found && fromBase64(found[1].replace(/\n/g, ""));
  if (!der) throw new Error("it is not exactly one public key in PEM form");
  if (der.length !== 44 || toHex(der.subarray(0, 12)) !== SPKI_PREFIX) {
    throw new Error("it is not an Ed25519 key");
  }
  const raw = der.subarray(12);
  if (hasSmallOrder(raw)) throw new Error("it is a key of small order, under which anything passes");
  return { raw, der };
}

/** Spelling does not matter: the sign bit is dropped and y taken modulo the prime. */
function hasSmallOrder(raw) {
  const y = littleEndian(raw) & ((1n << 255n) - 1n);
  return SMALL_ORDER_Y.has(y % FIELD_PRIME);
}

function littleEndian(bytes) {
  return BigInt(`0x${toHex(bytes.slice().reverse())}`);
}

/** Does the signature hold? Throws NotSupported when this browser cannot tell. */
async function signatureHolds(raw, signature, message) {
  if (signature.length !== 64 || littleEndian(signature.subarray(32)) >= GROUP_ORDER) return false;
  let key;
  try {
    key = await crypto.subtle.importKey("raw", raw, "Ed25519", false, ["verify"]);
  } catch (error) {
    if (await knowsEd25519()) return false;
    throw new NotSupported("this browser cannot check Ed25519 signatures");
  }
  return crypto.subtle.verify("Ed25519", key, signature, message);
}

/** Whether a key that is certainly good (RFC 8032 section 7.1, test 1) can be taken in. */
async function knowsEd25519() {
  if (!HAS_WEBCRYPTO) return false;
  const good = fromHex("d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a");
  try {
    await crypto.subtle.importKey("raw", good, "Ed25519", false, ["verify"]);
    return true;
  } catch {
    return false;
  }
}
