// The kinds of events and the form of each one's body (format, sections 6 and 6.1).

const aName = aText(1, 4000);
const aRef = fieldsOf({ sha256: aDigest, bytes: aCount(0), media_type: anyText });
const textOrNull = orNull(anyText);
const digestOrNull = orNull(aDigest);
const MOST_PIECES = 999; // of one thing at one step
const aDevice = oneOf("camera", "microphone");

const BODIES = new Map(Object.entries({
  "job-opened": {
    format: (value) => (Number.isSafeInteger(value) ? null : "is not a whole number"),
    app: aName,
    job: aName,
    step_list: fieldsOf({ id: aName, version: aName, sha256: aDigest, bytes: aCount(0) }),
    variant: textOrNull,
    device: fieldsOf({ family: aName, model: aName, serial: aName }),
    claim: aName,
    technician: aName,
    practice: aTruth,
    clock: oneOf("system", "practice"),
    platform: anyText,
  },
  "ticket-opened": { ticket: aRef, signature: aRef, nonce: aName, issued_at: aName, depot: aName },
  "caution-acknowledged": { caution: aName, "said?": aName },
  "item-ticked": { list: oneOf("tools", "consumables", "new-parts"), item: aName, "said?": aName },
  "step-entered": { reason: oneOf("first", "next", "back", "redo", "resumed"), from: textOrNull },
  "photo-taken": {
    photo: aRef, wanted: textOrNull, purpose: oneOf("checkpoint", "stop-reason", "note"),
    width: aCount(1), height: aCount(1), source: anObject, retake_of: digestOrNull,
  },
  "photo-judged": {
    photo: aDigest,
    passes: aTruth,
    checks: listOf(fieldsOf({
      name: aName, value: orNull(eitherOf(aNumber, anyText)), limit: orNull(eitherOf(aNumber, anyText)),
      unit: textOrNull, holds: aTruth, sentence: anyText,
    })),
  },
  "photo-kept": { photo: aDigest, reason: aName },
  "scale-card-named": {
    serial: aName, scale: numberAbove(0), scale_u: numberFrom(0), thickness_mm: numberAbove(0), thickness_u_mm: numberFrom(0),
  },
  measured: { photo: aDigest, wanted: aName, result: anObject, markup: orNull(aRef) },
  "hold-started": { at_least_s: numberAbove(0) },
  "hold-ended": { held_s: numberFrom(0), met: aTruth, "reason?": orNull(oneOf("early", "too-long")) },
  "hold-lost": { reason: aName },
  "reading-entered": {
    reading: aName, value: aName, unit: textOrNull, within: orNull(aTruth),
    entered_by: oneOf("typed", "spoken", "scanned"),
  },
  "pieces-counted": {
    thing: aName, goes: oneOf("out", "in"), count: (value) => aCount(0)(value) ?? (value <= MOST_PIECES ? null : `is above ${MOST_PIECES}`),
    other: orNull(aName), reason: orNull(aName), photo: digestOrNull,
  },
  "finding-given": {
    finding: oneOf("clear", "not-clear", "cannot-tell"),
    leads_to: fieldsOf({ action: oneOf("go-on", "redo", "stop"), step: textOrNull, rule: textOrNull }),
  },
  "repair-stopped": {
    rule: aName, by: oneOf("finding", "technician", "redo-limit", "count"), reason: aName, disposition: aName,
    prohibitions: listOf(aName),
  },
  "name-given": { role: aName, name: aName },
  "note-started": { note: aName, photo: digestOrNull },
  "note-recorded": {
    note: aName, audio: aRef, seconds: numberFrom(0), photo: digestOrNull, cut_short: aTruth,
    dropouts: aCount(0), rate: aCount(1),
  },
  "note-lost": { note: aName, reason: aName },
  "note-written": { text: aName, photo: digestOrNull },
  "transcript-made": { note: aName, text: aText(0, 200000), engine: fieldsOf({ name: aName, version: aName }) },
  "transcript-corrected": { note: aName, text: aText(0, 200000) },
  corrected: { of: aCount(1), text: aName },
  "taken-back": { of: aCount(1) },
  "device-lost": { device: aDevice, name: aName, message: anyText },
  "device-returned": { device: aDevice, name: aName, away_s: numberFrom(0) },
  "clock-stepped": { by_s: aNumber, earlier: aTruth },
  "machine-restarted": { previous_boot: anyText },
  "record-recovered": { set_aside: listOf(anyText), finished: listOf(anyText) },
  "job-left": {},
  "job-resumed": {},
  "job-closed": { outcome: oneOf("completed", "stopped", "abandoned"), reason: textOrNull },
}).map(([kind, fields]) => [kind, fieldsOf(fields)]));

/** What is wrong with an event's kind or body; null when nothing is. */
function bodyProblem(event) {
  const form = BODIES.get(event.kind);
  if (!form) return "is of an unknown kind";
  const wrong = form(event.body);
  return wrong && `has a body that ${wrong}`;
}
