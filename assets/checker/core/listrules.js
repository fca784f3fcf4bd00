// The rules of a step list that join two of its values (format, section 6.1, 1 to 6).

const MOST_RECESS_MM = 5;
const UNITS = { gap: "mm", mesh: "mm", residue: "mm2" };

/** The first rule that a step list breaks, as a sentence; null when it keeps them all. */
function brokenListRule(list) {
  for (const problem of listProblems(list)) return problem;
  return null;
}

function* listProblems(list) {
  yield* nameProblems(list);
  yield* useProblems(list);
  yield* wayProblems(list);
  yield* countProblems(list);
  for (const [index, step] of list.steps.entries()) {
    for (const [finding, rule] of Object.entries(step.rules ?? {})) {
      for (const problem of ruleProblems(list, step, rule)) yield `step ${step.id}, ${finding}: ${problem}`;
    }
    for (const problem of quantityProblems(list, index, step)) yield `step ${step.id}: ${problem}`;
  }
  for (const rule of list.stopRules) {
    if (rule.photos.some((photo) => photo.measurement)) yield `stop rule ${rule.id}: a photo of a stop is measured`;
  }
}

/** The first text that stands twice in a list. */
function twice(names) {
  const seen = new Set();
  return names.find((name) => seen.size === seen.add(name).size);
}

function* nameProblems(list) {
  const photos = [...list.steps, ...list.stopRules].flatMap((each) => each.photos.map((photo) => photo.id));
  const kinds = {
    variant: list.variants,
    caution: list.cautions,
    tool: list.items.tools,
    consumable: list.items.consumables,
    "new part": list.items["new-parts"],
    "counted thing": list.counted.map((thing) => thing.id),
    step: list.steps.map((step) => step.id),
    "stop rule": list.stopRules.map((rule) => rule.id),
    photo: photos,
    reading: list.steps.flatMap((step) => step.readings.map((reading) => reading.id)),
  };
  for (const [kind, ids] of Object.entries(kinds)) {
    const doubled = twice(ids);
    if (doubled !== undefined) yield `the ${kind} ${doubled} is there twice`;
  }
  const references = [
    ...list.steps.flatMap((step) => [[step.variants, list.variants], [step.cautions, list.cautions]]),
    ...list.steps.map((step) => [step.counts.map((count) => count.thing), list.counted.map((thing) => thing.id)]),
    ...list.counted.map((thing) => [thing.variants, list.variants]),
    ...list.stopRules.map((rule) => [rule.names, rule.names]),
  ];
  for (const [names, known] of references) {
    const doubled = twice(names);
    if (doubled !== undefined) yield `${doubled} is named twice in one place`;
    const there = new Set(known);
    const unknown = names.find((name) => !there.has(name));
    if (unknown !== undefined) yield `${unknown} is named and not there`;
  }
}

function* useProblems(list) {
  const rules = list.steps.flatMap((step) => Object.values(step.rules ?? {}));
  const stops = [list.stopByTechnician, ...list.counted.map((thing) => thing.missing), ...rules.flatMap((rule) => [rule.stop, rule["then-stop"]])];
  const cautions = list.steps.flatMap((step) => step.cautions);
  for (const stop of stops) {
    if (stop !== undefined && !list.stopRule(stop)) yield `the stop rule ${stop} is named and not there`;
  }
  for (const rule of list.stopRules) if (!stops.includes(rule.id)) yield `nothing leads to the stop rule ${rule.id}`;
  for (const caution of list.cautions) if (!cautions.includes(caution)) yield `no step names the caution ${caution}`;
}

function* wayProblems(list) {
  for (const variant of list.variants.length ? list.variants : [null]) {
    const steps = list.stepsOf(variant);
    if (!steps.length) yield `the variant ${variant} has no step`;
    const blocked = steps.find((step) => step.rules && !Object.values(step.rules).some((rule) => rule["go-on"]));
    if (blocked) yield `no finding of the step ${blocked.id} goes on`;
  }
}

function* countProblems(list) {
  for (const { counts, id } of list.steps) {
    if (counts.some((count) => (count.out === undefined) === (count.in === undefined))) yield `step ${id}: a count has not exactly one of out and in`;
  }
  const counts = (list.variants.length ? list.variants : [null]).map((variant) => grouped(list.countsOf(variant), "thing"));
  for (const { id } of list.counted) {
    const ways = counts.map((way) => way.get(id) ?? []);
    if (!ways.some((way) => way.length)) yield `no step of its variants counts ${id}`;
    if (ways.some(comesBackTooOften)) yield `more of ${id} goes back than went the other way before`;
  }
}

/** Does more go one way than went the other way before, of a thing that begins by going that other way? */
function comesBackTooOften(way) {
  const begins = way[0]?.out === undefined ? "in" : "out";
  const back = begins === "in" ? "out" : "in";
  let away = 0;
  return way.some((count) => (away += (count[begins] ?? 0) - (count[back] ?? 0)) < 0);
}

function* ruleProblems(list, step, rule) {
  const ways = [rule["go-on"] === true, rule["redo-from"] !== undefined, rule.stop !== undefined];
  if (ways.filter(Boolean).length !== 1) yield "not exactly one of go-on, redo-from and stop";
  const limited = rule["redo-limit"] !== undefined;
  if (limited !== (rule["then-stop"] !== undefined)) yield "redo-limit and then-stop do not stand together";
  if (limited && rule["redo-from"] === undefined) yield "redo-limit without redo-from";
  if (rule["redo-from"] === undefined) return;
  const back = list.steps.findIndex((each) => each.id === rule["redo-from"]);
  if (back < 0) yield `the step ${rule["redo-from"]} is named and not there`;
  else if (back > list.steps.indexOf(step)) yield `${rule["redo-from"]} comes later`;
  else if (lacksVariant(list, step, list.steps[back])) yield `${rule["redo-from"]} is not in each of its variants`;
}

/** Is there a variant with the one step and without the other? */
function lacksVariant(list, one, other) {
  return list.variants.some((variant) => list.stepsOf(variant).includes(one) && !list.stepsOf(variant).includes(other));
}

function* quantityProblems(list, index, step) {
  const { hold } = step;
  if (hold && (hold["at-most-s"] ?? Infinity) < hold["at-least-s"]) yield "the hold's at-most-s is below its at-least-s";
  for (const reading of step.readings) {
    for (const problem of readingProblems(reading)) yield `reading ${reading.id}: ${problem}`;
  }
  for (const [place, photo] of step.photos.entries()) {
    if (!photo.measurement) continue;
    const above = step.photos.slice(0, place).map((each) => each.id);
    if (!photo["scale-card"]) yield `photo ${photo.id}: is measured without the scale card`;
    for (const problem of measurementProblems(list, index, photo.measurement, above)) yield `photo ${photo.id}: ${problem}`;
  }
}

function limitsOf(limited) {
  return [limited["at-least"], limited["at-most"]].filter((limit) => limit !== undefined);
}

function* limitProblems(limited) {
  if (limitsOf(limited).length && limited.unit === undefined) yield "a limit has no unit";
  if (limited["at-least"] > limited["at-most"]) yield "at-least is above at-most";
}

function* readingProblems(reading) {
  if (reading.text) {
    if (limitsOf(reading).length || reading.unit !== undefined || reading.decimals) yield "a text has a unit, limits or decimals";
    return;
  }
  yield* limitProblems(reading);
  for (const limit of limitsOf(reading)) {
    if (decimalOf(String(limit)).places > (reading.decimals ?? 0)) yield `the limit ${limit} has more decimals than can be entered`;
  }
}

function* measurementProblems(list, index, measurement, above) {
  const { kind, unit, reference, second, recess } = measurement;
  const tolerance = measurement["recess-tolerance"];
  yield* limitProblems(measurement);
  if (unit !== undefined && unit !== UNITS[kind]) yield `${kind} is measured in ${UNITS[kind]}`;
  if (limitsOf(measurement).some((limit) => limit < 0)) yield "a limit is below 0";
  if (kind !== "residue" && !limitsOf(measurement).length) yield "it has no limit";
  if ((kind === "residue") !== (reference !== undefined)) yield "a reference belongs to residue, and residue has one";
  if (second !== undefined && (kind !== "residue" || !above.includes(second))) yield `no photo above it is ${second}`;
  if (kind !== "mesh" && (recess ?? tolerance) !== undefined) yield "only a mesh has a recess";
  if (recess !== undefined && !(recess >= 0 && recess <= MOST_RECESS_MM)) yield "its recess is not from 0 to 5 mm";
  if (tolerance !== undefined && !(recess !== undefined && tolerance > 0 && tolerance <= MOST_RECESS_MM)) yield "the tolerance of its recess cannot be";
  if (reference === undefined) return;
  const source = list.steps.slice(0, index).find((step) => step.photos.some((photo) => photo.id === reference));
  if (!source) yield `no earlier step wants the photo ${reference}`;
  else if (lacksVariant(list, list.steps[index], source)) yield `${reference} is not taken in each of its variants`;
}
