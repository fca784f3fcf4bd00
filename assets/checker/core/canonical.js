// JSON in the one spelling of RFC 8785, and the refusal of every other.
//
// A reader that compares the bytes with the canonical form of what it read has
// refused doubled keys, other spellings of numbers and text, white space, and
// anything before or behind the value.

// Deeper than any event; a limit keeps brackets from using up the stack.
const DEEPEST = 400;

const LARGEST_INTEGER = Number.MAX_SAFE_INTEGER;

/** The value of canonical JSON bytes. Throws an Error saying what is wrong. */
function readCanonical(bytes) {
  const text = utf8(bytes);
  if (text === null) throw new Error("it is not UTF-8");
  let value;
  try {
    value = JSON.parse(text);
  } catch {
    throw new Error("it is not JSON");
  }
  if (canonical(value) !== text) throw new Error("it is not canonical JSON (RFC 8785)");
  return value;
}

/** RFC 8785 text of a value; throws an Error for what that standard cannot write. */
function canonical(value, depth = 0) {
  if (depth > DEEPEST) throw new Error("it is nested too deeply");
  switch (typeof value) {
    case "boolean":
      return value ? "true" : "false";
    case "number":
      if (!Number.isFinite(value)) throw new Error("a number is too large for JSON");
      // ECMAScript's own spelling of numbers is the one that section 3.2.2.3 asks for.
      return Object.is(value, -0) ? "0" : String(value);
    case "string":
      return canonicalText(value);
    case "object":
      if (value === null) return "null";
      if (Array.isArray(value)) {
        return `[${value.map((item) => canonical(item, depth + 1)).join(",")}]`;
      }
      // sort() compares UTF-16 code units, as section 3.2.3 asks for.
      return `{${Object.keys(value)
        .sort()
        .map((key) => `${canonicalText(key)}:${canonical(value[key], depth + 1)}`)
        .join(",")}}`;
    default:
      throw new Error(`${typeof value} is not JSON`);
  }
}

function canonicalText(text) {
  if (/[\ud800-\udfff]/.test(text) && !wellFormed(text)) throw new Error("it holds half a character");
  return JSON.stringify(text);
}

function wellFormed(text) {
  for (let at = 0; at < text.length; at++) {
    const code = text.charCodeAt(at);
    if (code < 0xd800 || code > 0xdfff) continue;
    const next = text.charCodeAt(at + 1);
    if (code > 0xdbff || !(next >= 0xdc00 && next <= 0xdfff)) return false;
    at++;
  }
  return true;
}

function isObject(value) {
  return typeof value === "object" && value !== null && !Array.isArray(value);
}

/** What is wrong with the fields of an object that must be exactly these; null when nothing. */
function fieldsProblem(value, names) {
  if (!isObject(value)) return "it is not an object";
  const missing = names.filter((name) => !Object.hasOwn(value, name));
  const unknown = Object.keys(value).filter((name) => !names.includes(name));
  if (missing.length) return `the field ${shown(missing[0])} is missing`;
  if (unknown.length) return `the field ${shown(unknown[0])} is unknown`;
  return null;
}

function isCount(value, least = 0) {
  return Number.isInteger(value) && value >= least && value <= LARGEST_INTEGER;
}

function isDigest(value) {
  return typeof value === "string" && IS_DIGEST.test(value);
}

/** Text of `least` to `most` characters. */
function isWords(value, most = 200, least = 1) {
  if (typeof value !== "string") return false;
  const length = value.length <= most ? value.length : [...value].length;
  return length >= least && length <= most;
}
