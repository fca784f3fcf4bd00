// The step list: its form (step-list.schema.json) and the list as the walk asks it.

const STEP_LIST = "data/step-list.toml";
const LARGEST_STEP_LIST = 1000000;
const MOST_DOTS = 100;

const CONTROL = /[\x00-\x08\x0b-\x1f\x7f]/;

const spelled = (pattern, most) => (value) => {
  if (!isWords(value, most)) return `is not a text of 1 to ${most} characters`;
  return pattern.test(value) && !CONTROL.test(value) ? null : `is spelled otherwise than its kind of text (${shown(value)})`;
};
const anId = spelled(/^[a-z0-9]+(?:-[a-z0-9]+)*$/, 64);
const aSentence = spelled(SEEN, 2000);
const aUnit = spelled(/^[^\p{White_Space}\x1c-\x1f]+(?: [^\p{White_Space}\x1c-\x1f]+)*$/u, 16);
const aVersion = spelled(/^[0-9]+\.[0-9]+(?:\.[0-9]+)?$/, 32);
const aPictureFile = spelled(/^[A-Za-z0-9][A-Za-z0-9._-]*(?:\/[A-Za-z0-9][A-Za-z0-9._-]*)*\.(?:png|jpg|jpeg)$/, 255);

const wholeFrom = (least, most) => (value) =>
  typeof value === "bigint" && value >= least && value <= most ? null : `is not a whole number from ${least} to ${most}`;
const finite = (value) =>
  ["bigint", "number"].includes(typeof value) && Number.isFinite(Number(value)) ? null : "is not a number";
const positive = (value) => finite(value) ?? (value > 0 ? null : "is not above 0");

/** Rows by the value of a field, in their order. */
function grouped(rows, field) {
  const groups = new Map();
  for (const row of rows) {
    if (groups.has(row[field])) groups.get(row[field]).push(row);
    else groups.set(row[field], [row]);
  }
  return groups;
}

const ITEM_FORM = fieldsOf({ id: anId, name: aSentence });
const PHOTO_FORM = fieldsOf({
  id: anId,
  framing: aSentence,
  "scale-card?": aTruth,
  "measurement?": fieldsOf({
    kind: oneOf("gap", "mesh", "residue"), "unit?": aUnit, "at-least?": finite, "at-most?": finite, "reference?": anId,
    "second?": anId, "recess?": finite, "recess-tolerance?": finite,
  }),
});
const RULE_FORM = fieldsOf({
  "go-on?": aTruth, "redo-from?": anId, "redo-limit?": wholeFrom(1, 100), "then-stop?": anId, "stop?": anId,
});
const STEP_FORM = fieldsOf({
  id: anId,
  title: aSentence,
  instruction: aSentence,
  "variants?": listOf(anId),
  "cautions?": listOf(anId),
  "picture?": aPictureFile,
  "pictures?": listOf(fieldsOf({ file: aPictureFile, sha256: aDigest, shows: aSentence }), 0, 4),
  "hold?": fieldsOf({ applied: aSentence, "at-least-s": positive, "at-most-s?": positive }),
  "readings?": listOf(fieldsOf({
    id: anId, name: aSentence, "unit?": aUnit, "at-least?": finite, "at-most?": finite,
    "decimals?": wholeFrom(0, 6), "text?": aTruth, "scan?": aTruth,
  })),
  "counts?": listOf(fieldsOf({ thing: anId, "out?": wholeFrom(1, 999), "in?": wholeFrom(1, 999) })),
  "checkpoint?": fieldsOf({
    question: aSentence,
    photos: listOf(PHOTO_FORM, 1),
    finding: fieldsOf({ clear: RULE_FORM, "not-clear": RULE_FORM, "cannot-tell": RULE_FORM }),
  }),
});
const STEP_LIST_FORM = fieldsOf({
  format: wholeFrom(1, 1),
  id: anId,
  version: aVersion,
  title: aSentence,
  device: fieldsOf({ family: aSentence, model: aSentence, "variants?": listOf(fieldsOf({ id: anId, title: aSentence })) }),
  "defers-to": aSentence,
  "stop-by-technician": anId,
  cautions: listOf(fieldsOf({
    id: anId, signal: oneOf("DANGER", "WARNING", "CAUTION", "NOTICE"), hazard: aSentence, avoid: aSentence,
  })),
  "tools?": listOf(ITEM_FORM),
  "consumables?": listOf(ITEM_FORM),
  "new-parts?": listOf(ITEM_FORM),
  "counted?": listOf(fieldsOf({
    id: anId, what: aSentence, "kind?": aSentence, "place?": aSentence, "variants?": listOf(anId), "missing?": anId,
  })),
  steps: listOf(STEP_FORM, 1),
  "stop-rules": listOf(fieldsOf({
    id: anId, reason: aSentence, disposition: aSentence, "prohibitions?": listOf(aSentence),
    "photos?": listOf(PHOTO_FORM), "spoken-reason?": aTruth, "names?": listOf(anId),
  }), 1),
});

/** The step list in bytes of TOML; throws an Error saying what is wrong with it. */
function openStepList(bytes) {
  if (bytes.length > LARGEST_STEP_LIST) throw new Error(`it is larger than ${LARGEST_STEP_LIST} bytes`);
  const text = utf8(bytes);
  if (text === null) throw new Error("it is not UTF-8");
  for (const [index, line] of text.split("\n").entries()) {
    const name = line.trimStart().startsWith("[") ? line : line.split("=", 1)[0];
    if (name.split(".").length > MOST_DOTS + 1) throw new Error(`line ${index + 1}: a name has more than ${MOST_DOTS} dots`);
  }
  const table = readToml(text);
  const wrong = STEP_LIST_FORM(table);
  if (wrong) throw new Error(`it ${wrong}`);
  const list = new StepList(inNumbers(table));
  const broken = brokenListRule(list);
  if (broken) throw new Error(broken);
  return list;
}

/** The same value with every BigInt as a Number. */
function inNumbers(value) {
  if (typeof value === "bigint") return Number(value);
  if (Array.isArray(value)) return value.map(inNumbers);
  if (!isObject(value)) return value;
  return Object.fromEntries(Object.entries(value).map(([name, inner]) => [name, inNumbers(inner)]));
}

/** A step list with everything that may be left out filled in. */
class StepList {
  constructor(table) {
    const { device, cautions, steps } = table;
    Object.assign(this, { id: table.id, version: table.version, family: device.family, model: device.model });
    this.variants = (device.variants ?? []).map((variant) => variant.id);
    this.cautions = cautions.map((caution) => caution.id);
    this.items = {
      tools: (table.tools ?? []).map((item) => item.id),
      consumables: (table.consumables ?? []).map((item) => item.id),
      "new-parts": (table["new-parts"] ?? []).map((item) => item.id),
    };
    this.steps = steps.map((step) => ({
      id: step.id,
      variants: step.variants ?? [],
      cautions: step.cautions ?? [],
      hold: step.hold ?? null,
      readings: step.readings ?? [],
      counts: step.counts ?? [],
      photos: step.checkpoint?.photos ?? [],
      rules: step.checkpoint?.finding ?? null,
    }));
    this.counted = (table.counted ?? []).map((thing) => ({ ...thing, variants: thing.variants ?? [] }));
    this.stopRules = table["stop-rules"].map((rule) => ({
      ...rule,
      prohibitions: rule.prohibitions ?? [],
      photos: rule.photos ?? [],
      spoken: rule["spoken-reason"] ?? true,
      names: rule.names ?? ["supervisor"],
    }));
    this.stopByTechnician = table["stop-by-technician"];
  }

  /** The steps of a variant in their order; null stands for the only one of a list without variants. */
  stepsOf(variant) {
    return this.steps.filter((step) => !step.variants.length || step.variants.includes(variant));
  }

  /** The counts of the variant's steps, each with its step, for the things that the variant has. */
  countsOf(variant) {
    const has = new Set(this.counted.filter((thing) => !thing.variants.length || thing.variants.includes(variant)).map((thing) => thing.id));
    return this.stepsOf(variant).flatMap((step) => step.counts.filter((count) => has.has(count.thing)).map((count) => ({ step: step.id, ...count })));
  }

  stopRule(id) {
    return this.stopRules.find((rule) => rule.id === id) ?? null;
  }
}
