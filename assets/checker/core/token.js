// A time token (RFC 3161), read but not trusted: for which bytes it is and which
// time it says. Whose it is needs certificates, which this page does not judge.

const OID_SIGNED_DATA = "06092a864886f70d010702";
const OID_TIME_INFO = "060b2a864886f70d0109100104";
const OID_SHA256 = "0609608648016503040201";

/** {moment, imprint}: milliseconds, and the SHA-256 as hex. Throws an Error when it is no granted token. */
function readToken(bytes) {
  const [status, content] = inside(only(bytes, 0x30), 0x30);
  const [granted] = inside(status, 0x30);
  if (toHex(granted.all) !== "020100" && toHex(granted.all) !== "020101") throw new Error("the authority did not grant it");
  const signed = only(explicit(content, OID_SIGNED_DATA).all, 0x30);
  const encapsulated = inside(signed, 0x30)[2];
  const octets = only(explicit(encapsulated, OID_TIME_INFO).all, 0x04);
  const info = inside(only(octets.body, 0x30), 0x30);
  const [algorithm, digest] = inside(info[2], 0x30);
  if (!toHex(algorithm.body).startsWith(OID_SHA256)) throw new Error("its imprint is not a SHA-256");
  return { imprint: toHex(only(digest.all, 0x04).body), moment: generalizedTime(only(info[4].all, 0x18).body) };
}

function generalizedTime(body) {
  const found = /^(\d{4})(\d\d)(\d\d)(\d\d)(\d\d)(\d\d)(\.\d{1,9})?Z$/.exec(latin1(body));
  const moment =
    found && momentOf(`${found[1]}-${found[2]}-${found[3]}T${found[4]}:${found[5]}:${found[6]}${found[7] || ""}Z`);
  if (!found || moment === null) throw new Error("its time cannot be read");
  return moment;
}

/** What stands explicitly tagged [0] behind the object identifier of a SEQUENCE. */
function explicit(sequence, identifier) {
  const [kind, wrapped] = inside(sequence, 0x30);
  if (!kind || toHex(kind.all) !== identifier) throw new Error("it is not signed time information");
  return only(only(wrapped.all, 0xa0).body, null);
}

/** The values in a constructed DER value. */
function inside(value, tag) {
  if (!value || value.tag !== tag) throw new Error("it is not in the form of RFC 3161");
  const values = [];
  for (let at = 0; at < value.body.length; at += values.at(-1).all.length) values.push(derValue(value.body.subarray(at)));
  return values;
}

/** The one DER value that fills these bytes; `tag` null takes any. */
function only(bytes, tag) {
  const value = derValue(bytes);
  const fits = value.all.length === bytes.length && (tag === null || value.tag === tag);
  if (!fits) throw new Error("it is not in the form of RFC 3161");
  return value;
}

/** First DER value (X.690, definite lengths): {tag, body, all}. */
function derValue(bytes) {
  let length = bytes[1];
  let start = 2;
  if (length > 0x80 && length <= 0x84) {
    start += length - 0x80;
    length = bytes.subarray(2, start).reduce((sum, byte) => sum * 256 + byte, 0);
  }
  if (!(length < 0x80 || start > 2) || start + length > bytes.length) throw new Error("it is not DER");
  return { tag: bytes[0], body: bytes.subarray(start, start + length), all: bytes.subarray(0, start + length) };
}
