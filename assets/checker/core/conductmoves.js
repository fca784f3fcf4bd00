// The conduct of each kind of event, first part: opening, steps, findings, stops, closing.

const CONDUCT_OF = {
  "job-opened"(walk, body, event) {
    if (event.sequence !== 1) return walk.say("opens the job a second time");
    const { list } = walk;
    const { step_list: named, device, variant } = body;
    walk.unless(body.format === 1, "has an unknown format");
    walk.unless(named.id === list.id && named.version === list.version, "names another step list");
    walk.unless(device.family === list.family && device.model === list.model, "names another device than the step list");
    const known = list.variants.length ? list.variants : [null];
    walk.unless(known.includes(variant), "names a variant that the step list does not have");
    walk.unless(body.clock !== "practice" || body.practice, "has a practice clock and is no practice job");
    walk.practice = body.practice;
    walk.serial = device.serial;
    walk.steps = list.stepsOf(variant);
    walk.askedAt = grouped(list.countsOf(variant), "step");
    walk.askedOf = grouped([...walk.askedAt.values()].flat(), "thing");
    walk.cautions = new Set(walk.steps.flatMap((step) => step.cautions));
  },

  "ticket-opened"(walk) {
    preparing(walk);
    walk.unless(!walk.ticket, "opens a second ticket");
    walk.ticket = true;
  },

  "caution-acknowledged"(walk, { caution }) {
    preparing(walk);
    walk.unless(walk.cautions.has(caution), "acknowledges what is no caution of this variant");
    walk.acknowledged.add(caution);
  },

  "item-ticked"(walk, { list, item }) {
    preparing(walk);
    walk.unless(walk.list.items[list].includes(item), "ticks what is not in its list");
    walk.ticked.add(`${list} ${item}`);
  },

  "step-entered"(walk, body, event) {
    const to = walk.steps.findIndex((step) => step.id === event.step);
    const from = walk.steps.findIndex((step) => step.id === walk.current);
    if (to < 0) return walk.say("enters a step that the variant does not have");
    walk.unless(!walk.pending || body.reason === "redo", "comes before what the last finding leads to");
    walk.unless(body.from === walk.current, "does not come from the current step");
    walk.unless(!walk.hold || body.reason === "resumed", "comes while a hold is running");
    ENTRIES[body.reason](walk, from, to);
    walk.current = event.step;
    walk.pending = null;
  },

  "finding-given"(walk, body, event) {
    walk.here();
    const step = walk.step(event.step);
    if (!walk.unless(step?.rules, "gives a finding where none is asked for")) return;
    const owed = walk.owedBeforeFinding(step);
    walk.unless(!owed.length, `is given without ${owed.join(", ")}`);
    for (const { id } of walk.unmeasured(step)) walk.say(`comes without the measurement that the photo ${id} asks`);
    const rule = step.rules[body.finding];
    const redone = walk.redone.get(step.id) ?? 0;
    const due = ruleLeadsTo(rule, redone);
    const { action, step: toStep, rule: toRule } = body.leads_to;
    const told = action === due.action && toStep === due.step && toRule === due.rule;
    walk.unless(told, `leads elsewhere than the step list says, which is ${due.action} ${due.step ?? due.rule ?? ""}`.trim());
    walk.goesOn.delete(step.id);
    if (due.action === "go-on") walk.goesOn.set(step.id, event.sequence);
    else walk.pending = { due, by: rule["redo-from"] === undefined ? "finding" : "redo-limit" };
    if (due.action === "redo") walk.redone.set(step.id, redone + 1);
  },

  "repair-stopped"(walk, body, event) {
    walk.here();
    const { pending, list } = walk;
    const byPending = pending?.due.action === "stop" && pending.by === body.by ? pending.due.rule : null;
    const byCount = walk.missingPieceRules().includes(body.rule) ? body.rule : null;
    const byItself = { technician: list.stopByTechnician, count: byCount }[body.by];
    const due = byItself === undefined ? byPending : pending ? null : byItself;
    walk.unless(due === body.rule, "stops under a rule to which nothing leads");
    const known = list.stopRule(body.rule);
    const rule = known ?? list.stopRule(list.stopByTechnician);
    const same = known && body.disposition === rule.disposition && sameTexts(body.prohibitions, rule.prohibitions);
    walk.unless(same, "states another disposition or other prohibitions than its rule");
    walk.unless(body.by === "technician" || body.reason === rule.reason, "states another reason than its rule");
    walk.stop = { rule, at: event.sequence, told: false, named: new Set() };
    walk.pending = null;
    walk.hold = null;
  },

  "name-given"(walk, { role, name }) {
    walk.unless(walk.stop?.rule.names.includes(role), "gives a name that nothing asks for");
    if (walk.unless(!isBlank(name), "gives a blank name")) walk.stop?.named.add(role);
  },

  "job-closed"(walk, { outcome, reason }) {
    walk.closed = true;
    walk.unless(!walk.pending, "closes before what the last finding leads to");
    walk.unless(!walk.recording, "closes while a note is being recorded");
    if (!walk.unless((outcome === "stopped") === (walk.stop !== null), "tells another outcome than the events give")) return;
    if (outcome === "stopped") {
      const owed = walk.owedByStop();
      walk.unless(!owed.length, `closes without ${owed.join(", ")}`);
    } else if (outcome === "completed") {
      const plain = (serial) => serial.replace(/\s+/g, "").toLowerCase();
      const sameUnit = walk.serialRead === null || plain(walk.serialRead) === plain(walk.serial ?? "");
      walk.unless(sameUnit, `completes the job of serial number ${shown(walk.serial ?? "")}, but ${shown(walk.serialRead ?? "")} was read on the unit`);
      walk.unless(walk.steps.length && walk.steps.at(-1).id === walk.current, "says completed before the last step");
      for (const step of walk.steps) {
        const owed = walk.owed(step);
        walk.unless(!owed.length, `says completed, and the step ${step.id} lacks ${owed.join(", ")}`);
      }
    } else {
      walk.unless(!isBlank(reason ?? ""), "abandons the job without a reason");
    }
  },
};

// How a step can be entered; places count from 0, -1 is none.
const ENTRIES = {
  first(walk, from, to) {
    walk.unless(walk.current === null && to === 0, "is not the beginning at the first step");
    const items = Object.entries(walk.list.items).flatMap(([list, ids]) => ids.map((id) => `${list} ${id}`));
    const owed = [...walk.cautions].filter((id) => !walk.acknowledged.has(id)).concat(items.filter((id) => !walk.ticked.has(id)));
    walk.unless(!owed.length, `begins the work without ${owed.join(", ")}`);
  },
  next(walk, from, to) {
    if (!walk.unless(from >= 0 && to === from + 1, "does not follow the current step")) return;
    const owed = walk.owed(walk.steps[from]);
    walk.unless(!owed.length, `leaves a step without ${owed.join(", ")}`);
  },
  back(walk, from, to) {
    walk.unless(from >= 0 && to === from - 1, "is not the step before the current one");
  },
  redo(walk, from, to) {
    const due = walk.pending?.due;
    walk.unless(due?.action === "redo" && due.step === walk.event.step, "goes back where no finding leads to");
    for (const step of walk.steps.slice(to)) walk.sentBack.set(step.id, walk.event.sequence);
  },
  resumed(walk) {
    walk.unless(walk.event.step === walk.current, "takes the job up at another step");
  },
};

function preparing(walk) {
  walk.unless(walk.current === null, "belongs before the first step");
}

function ruleLeadsTo(rule, redone) {
  if (rule.stop !== undefined) return { action: "stop", step: null, rule: rule.stop };
  if (rule["redo-from"] === undefined) return { action: "go-on", step: null, rule: null };
  if (redone < (rule["redo-limit"] ?? Infinity)) return { action: "redo", step: rule["redo-from"], rule: null };
  return { action: "stop", step: null, rule: rule["then-stop"] };
}

function sameTexts(one, other) {
  return one.length === other.length && one.every((text, index) => text === other[index]);
}
