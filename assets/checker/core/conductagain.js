// What an event says of a photo, computed again from its own numbers and the step list. The
// limits are those of journal format 1 (package format, section 6.1). Only numbers that were
// rounded for the journal leave room, by half of their last digit.

// Name: which side of the limit holds, unit, limit; in pixels of a photo of up to 4000 pixels.
const GATE = new Map(Object.entries({
  size: ["least", "megapixels", 1],
  card: ["least", "markers", 4],
  focus: ["most", "px edge rise", 3.05],
  motion: ["most", "px smear", 4],
  shadows: ["most", "share of picture", 0.3],
  highlights: ["most", "share of picture", 0.08],
  glare: ["most", "share of picture", 0.02],
}));
const FOCUS_ON_CARD = "mm edge rise on the scale card";
const ROUNDED = 0.000051;
const ROUNDED_MM = 0.0002;
const GUARD = 1.65;

function* gateProblems(checks, { width, height }, cardWanted) {
  const names = [...GATE.keys()].filter((name) => name !== "card" || cardWanted);
  if (!checks.length) return; // said with what it passes for
  if (names.length !== checks.length || names.some((name, index) => checks[index].name !== name)) {
    yield `does not have exactly the checks ${names.join(", ")}`;
    return;
  }
  for (const check of checks) yield* gateCheckProblems(check, width, height, cardWanted);
}

function* gateCheckProblems({ name, value, limit: told, unit, holds }, width, height, cardWanted) {
  const [side, itsUnit, itsLimit] = GATE.get(name);
  if (typeof value !== "number" || typeof told !== "number") {
    yield `has a check ${name} without a number`;
    return;
  }
  const limit = itsLimit * (["focus", "motion"].includes(name) ? Math.max(width, height, 4000) / 4000 : 1);
  const onCard = name === "focus" && cardWanted && unit === FOCUS_ON_CARD;
  const known = onCard ? told > 0 : Math.abs(told - limit) <= ROUNDED;
  if (!known || !(onCard || String(unit).startsWith(itsUnit))) {
    yield `has a check ${name} with another limit than ${limit} ${itsUnit}`;
    return;
  }
  if (name === "size" && Math.abs(value - (width * height) / 1e6) > ROUNDED) yield "gives the photo another size than it was taken with";
  const over = side === "most" ? value - told : told - value;
  if (holds ? over > ROUNDED : over < -ROUNDED && name !== "card") {
    yield `says of ${name} ${value} against the limit ${told} what the numbers do not give`;
  }
}

function* measuredProblems(result, asked) {
  const { conformity, value, U } = result;
  if (conformity === "refused") {
    if ((value ?? null) !== null) yield "is refused and gives a value";
    return;
  }
  if ((result.at_least ?? null) !== (asked["at-least"] ?? null) || (result.at_most ?? null) !== (asked["at-most"] ?? null)) {
    yield "has other limits than the step list";
    return;
  }
  if (typeof value !== "number" || value < 0) {
    yield "has no value";
    return;
  }
  if (asked.kind === "residue") {
    if (conformity !== "inconclusive") yield "judges an area that has no stated uncertainty";
    return;
  }
  if (typeof U !== "number" || U <= 0) {
    yield "has no uncertainty";
    return;
  }
  const [lowest, highest] = ["smallest", "largest"].map((name) => {
    const { width_mm: width, U_mm: u } = isObject(result[name]) ? result[name] : {};
    return typeof width === "number" && typeof u === "number" && u > 0 ? [width, u] : [value, U];
  });
  if (!(lowest[0] - ROUNDED_MM <= value && value <= highest[0] + ROUNDED_MM)) yield "has a value that is not between its smallest and its largest";
  if (!conformitiesOf(lowest, highest, asked).has(conformity)) yield `says ${shown(String(conformity))} of ${value} mm, U = ${U} mm, which its limits do not give`;
}

/** What can be said within the rounding; the worse of the two limits counts. */
function conformitiesOf(lowest, highest, asked) {
  const against = (room, guard) => (room < -guard ? "outside" : room >= guard ? "within" : "inconclusive");
  const [low, high] = [asked["at-least"], asked["at-most"]];
  const said = new Set();
  for (const shift of [-ROUNDED_MM, 0, ROUNDED_MM]) {
    const verdicts = [];
    if (high !== undefined) verdicts.push(against(high - highest[0] + shift, (GUARD * highest[1]) / 2));
    if (low !== undefined) verdicts.push(against(lowest[0] - low + shift, (GUARD * lowest[1]) / 2));
    said.add(["outside", "inconclusive", "within"].find((each) => verdicts.includes(each)) ?? "inconclusive");
  }
  return said;
}
