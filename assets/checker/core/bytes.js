// Bytes, hex, Base64 and UTF-8, read strictly.

const HEX_BYTES = Array.from({ length: 256 }, (_, byte) => byte.toString(16).padStart(2, "0"));
const IS_DIGEST = /^[0-9a-f]{64}$/;

// The BOM stays in the text, so that a file beginning with one is never taken for one without.
const STRICT_UTF8 = new TextDecoder("utf-8", { fatal: true, ignoreBOM: true });

function toHex(bytes) {
  let text = "";
  for (const byte of bytes) text += HEX_BYTES[byte];
  return text;
}

function fromHex(text) {
  return Uint8Array.from(text.match(/../g) || [], (pair) => parseInt(pair, 16));
}

/** Bytes of standard Base64 with padding (RFC 4648 section 4); null when it is anything else. */
function fromBase64(text) {
  if (!/^(?:[A-Za-z0-9+/]{4})*(?:[A-Za-z0-9+/]{2}==|[A-Za-z0-9+/]{3}=)?$/.test(text)) return null;
  const bytes = Uint8Array.from(atob(text), (character) => character.charCodeAt(0));
  return btoa(String.fromCharCode(...bytes)) === text ? bytes : null;
}

/** Text of UTF-8 bytes; null when they are not UTF-8. */
function utf8(bytes) {
  try {
    return STRICT_UTF8.decode(bytes);
  } catch {
    return null;
  }
}

/** One character for each byte, for looking at ASCII structure. */
function latin1(bytes) {
  let text = "";
  for (let at = 0; at < bytes.length; at += 8192) {
    text += String.fromCharCode(...bytes.subarray(at, at + 8192));
  }
  return text;
}

function sameBytes(one, other) {
  if (one.length !== other.length) return false;
  return one.every((byte, at) => byte === other[at]);
}

/** Text as it may be shown: control and direction characters and bytes above ASCII escaped. */
function shown(text) {
  const safe = String(text).replace(/[^\x20-\x7e]/g, (character) => {
    const code = character.charCodeAt(0);
    return code < 256 ? `\\x${HEX_BYTES[code]}` : `\\u${code.toString(16).padStart(4, "0")}`;
  });
  return safe.length > 200 ? `${safe.slice(0, 197)}...` : safe;
}
