// The form of a value, said with small functions: a shape gives null for a value that
// fits it, or else what is wrong with it.

const aDigest = (value) => (isDigest(value) ? null : "is not a SHA-256");
const aTruth = (value) => (typeof value === "boolean" ? null : "is neither true nor false");
const anyText = (value) => (typeof value === "string" ? null : "is not a text");
const anObject = (value) => (isObject(value) ? null : "is not an object");
const aNumber = (value) => (typeof value === "number" ? null : "is not a number");

const aText = (least, most) => (value) =>
  isWords(value, most, least) ? null : `is not a text of ${least} to ${most} characters`;
const aCount = (least) => (value) => (isCount(value, least) ? null : `is not a whole number from ${least}`);
const numberFrom = (least) => (value) => aNumber(value) ?? (value >= least ? null : `is below ${least}`);
const numberAbove = (limit) => (value) => aNumber(value) ?? (value > limit ? null : `is not above ${limit}`);
const oneOf = (...words) => (value) => (words.includes(value) ? null : `is none of ${words.join(", ")}`);
const orNull = (shape) => (value) => (value === null ? null : shape(value));

/** One of several shapes; the last one says what is wrong. */
const eitherOf = (...shapes) => (value) =>
  shapes.reduce((wrong, shape) => (wrong === null ? null : shape(value)), "");

const listOf = (shape, least = 0, most = Infinity) => (value) => {
  if (!Array.isArray(value)) return "is not a list";
  if (value.length < least) return "is an empty list";
  if (value.length > most) return `has more than ${most} places`;
  for (const [index, item] of value.entries()) {
    const wrong = shape(item);
    if (wrong) return `at place ${index + 1} ${wrong}`;
  }
  return null;
};

/** An object with exactly these fields; one whose name ends in "?" may be left out. */
function fieldsOf(fields) {
  const known = new Map();
  for (const [name, shape] of Object.entries(fields)) {
    known.set(name.replace("?", ""), { shape, optional: name.endsWith("?") });
  }
  return (value) => {
    if (!isObject(value)) return "is not an object";
    for (const [name, inner] of Object.entries(value)) {
      if (!known.has(name)) return `has the unknown field ${shown(name)}`;
      const wrong = known.get(name).shape(inner);
      if (wrong) return `has a field ${name} that ${wrong}`;
    }
    for (const [name, { optional }] of known) {
      if (!optional && !Object.hasOwn(value, name)) return `lacks the field ${name}`;
    }
    return null;
  };
}

const SEEN = /[^\p{White_Space}\x1c-\x1f]/u;

function isBlank(text) {
  return !SEEN.test(text);
}
