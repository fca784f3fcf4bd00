// The conduct of each kind of event, second part: photos, holds, readings, notes, interruptions.

const SERIAL_READING = "serial-number";

/** The table of the view that a photo was taken for, if it is one. */
function wantedPhoto(walk, body, event) {
  const photos = body.purpose === "stop-reason" ? walk.stop?.rule.photos : body.purpose === "checkpoint" ? walk.step(event.step)?.photos : [];
  return photos?.find((each) => each.id === body.wanted);
}

Object.assign(CONDUCT_OF, {
  "photo-taken"(walk, body, event) {
    walk.here();
    const name = body.photo.sha256;
    if (!walk.unless(!walk.photos.has(name), "shows a photo a second time")) return;
    walk.unless(body.source.kind !== "practice" || walk.practice, "is of the practice camera and in no practice job");
    const before = body.purpose === "note" ? null : replacedPhoto(walk, body, event);
    if (body.purpose === "note") walk.unless(body.wanted === null && !walk.stop, "is a note's photo where none can be");
    walk.unless(body.retake_of === before, "does not name the photo that it retakes, or names another");
    walk.photos.set(name, { step: event.step, wanted: body.wanted, passes: null, kept: false, measured: null, width: body.width, height: body.height,
      cardWanted: wantedPhoto(walk, body, event)?.["scale-card"] === true });
  },

  "photo-judged"(walk, body) {
    const photo = photoAtItsStep(walk, body.photo);
    if (!photo || !walk.unless(photo.passes === null, "judges a photo a second time")) return;
    for (const problem of gateProblems(body.checks, photo, photo.cardWanted)) walk.say(problem);
    photo.passes = body.checks.length > 0 && body.checks.every((check) => check.holds);
    walk.unless(photo.passes === body.passes, "tells of the photo what its checks do not give");
  },

  "photo-kept"(walk, body) {
    const photo = photoAtItsStep(walk, body.photo);
    if (!photo) return;
    walk.unless(photo.passes === false, "keeps a photo that was not found failing");
    const says = (body.reason.match(/[\p{L}\p{N}]/gu) ?? []).length >= 3;
    photo.kept = walk.unless(says, "keeps a photo without a reason that says something") || photo.kept;
  },

  measured(walk, body) {
    const photo = photoAtItsStep(walk, body.photo);
    if (!photo) return;
    const wanted = walk.step(photo.step)?.photos.find((each) => each.id === photo.wanted);
    const asked = body.wanted === photo.wanted && wanted?.measurement;
    if (!walk.unless(asked, "measures where the step list asks for no measurement")) return;
    const result = canonical(body.result);
    walk.unless(!photo.measured || photo.measured === result, "measures a photo a second time, with another result");
    photo.measured = result;
    walk.unless(body.result.kind === wanted.measurement.kind, "is of another kind than asked for");
    walk.unless(photo.kept || photo.passes === true, "measures on a photo that does not count");
    for (const problem of measuredProblems(body.result, wanted.measurement)) walk.say(problem);
    const { card } = body.result;
    if (!isObject(card) || card.confirmed === false) return;
    const named = walk.card && { confirmed: true, ...walk.card };
    const same = named && Object.keys(card).length === Object.keys(named).length
      && Object.entries(named).every(([name, value]) => card[name] === value);
    walk.unless(same, "relies on a scale card other than the one named before it");
  },

  "scale-card-named"(walk, body) {
    walk.card = body;
  },

  "hold-started"(walk, body, event) {
    walk.here();
    const hold = walk.step(event.step)?.hold;
    if (!walk.unless(hold, "starts a hold where there is none")) return;
    walk.unless(!walk.hold, "starts a hold while another is running");
    walk.unless(body.at_least_s === hold["at-least-s"], "asks for another time than the step list");
    walk.hold = { step: event.step, from: event.mono_us, boot: event.boot, broken: false };
    walk.heldBy.delete(event.step);
    walk.touch();
  },

  "hold-ended"(walk, body, event) {
    walk.here();
    const running = walk.hold;
    const asked = walk.step(event.step)?.hold;
    walk.hold = null;
    walk.heldBy.delete(event.step);
    walk.touch();
    if (!walk.unless(running?.step === event.step && asked, "ends a hold that was not running here")) return;
    if (!walk.unless(!running.broken && running.boot === event.boot, "ends a hold over a restart of the machine")) return;
    const held = event.mono_us - running.from;
    walk.unless(Math.abs(held - body.held_s * 1e6) <= HELD_TOLERANCE_US, `tells ${body.held_s} s, the clock shows ${held / 1e6} s`);
    const longEnough = held >= roundHalfEven(asked["at-least-s"] * 1e6);
    const met = longEnough && held <= roundHalfEven((asked["at-most-s"] ?? Infinity) * 1e6);
    walk.unless(met === body.met, `held ${held / 1e6} s, and says of it ${body.met ? "met" : "not met"}`);
    if (met) walk.heldBy.set(event.step, event.sequence);
  },

  "hold-lost"(walk, body, event) {
    const running = walk.hold;
    walk.hold = null;
    if (!walk.unless(running?.step === event.step, "loses a hold that was not running here")) return;
    walk.unless(running.broken || running.boot !== event.boot, "loses a hold without a restart of the machine");
  },

  "machine-restarted"(walk) {
    if (walk.hold) walk.hold.broken = true;
  },

  "reading-entered"(walk, body, event) {
    walk.here();
    const asked = walk.step(event.step)?.readings.find((reading) => reading.id === body.reading);
    if (!walk.unless(asked, "enters a reading that is not asked for here")) return;
    walk.touch();
    walk.unless(body.unit === (asked.unit ?? null), "is in another unit than asked for");
    walk.unless(body.entered_by !== "scanned" || asked.scan, "was scanned, which is not allowed");
    const problem = valueProblem(body.value, asked);
    if (!walk.unless(!problem, problem)) return;
    walk.unless(body.within === isWithin(body.value, asked), "says within otherwise than its limits give");
    walk.readBy.set(asked.id, event.sequence);
    if (asked.id === SERIAL_READING) walk.serialRead = body.value;
  },

  "pieces-counted"(walk, { thing, goes, count, other, reason, photo }, event) {
    walk.here();
    const asked = walk.askedAt.get(event.step)?.find((each) => each.thing === thing);
    if (!walk.unless(asked, "counts what the step list does not count here")) return;
    walk.touch();
    if (!walk.unless(asked[goes] !== undefined, "counts the other way than the step list")) return;
    photoWasTaken(walk, photo);
    const explained = (reason?.match(/[\p{L}\p{N}]/gu) ?? []).length >= 3;
    walk.unless(reason === null || explained, "gives a reason that says nothing");
    walk.unless(count === asked[goes] || explained, `counts ${count} where ${asked[goes]} are listed, without a reason`);
    walk.unless(other === null || (explained && !isBlank(other)), "counts pieces of another kind without a reason");
    const more = (count - asked[goes]) * (goes === "in" ? 1 : -1);
    walk.countedBy.set(`${event.step} ${thing}`, { sequence: event.sequence, more, explained });
    if (explained) walk.explained.push(`event ${event.sequence}: ${count} counted ${goes} where ${asked[goes]} are listed${other === null ? "" : `, of another kind: ${shown(other)}`}; reason given: ${shown(reason)}`);
  },

  "note-started"(walk, { note, photo }, event) {
    walk.here();
    photoWasTaken(walk, photo);
    if (!walk.unless(!walk.notes.has(note), "starts a note a second time")) return;
    walk.unless(!walk.recording, "starts a note while another is being recorded");
    walk.recording += 1;
    walk.notes.set(note, { sequence: event.sequence, step: event.step, photo, state: "recording", written: false });
  },

  "note-recorded"(walk, body) {
    const note = noteAtItsStep(walk, body.note);
    if (!note) return;
    walk.unless(note.state !== "recorded", "records a note a second time");
    walk.unless(note.photo === body.photo, "binds the note to another photo than at its start");
    walk.unless(body.rate === NOTE_RATE, "is not at the rate of notes");
    endRecording(walk, note, "recorded");
    if (walk.stop && note.sequence > walk.stop.at) walk.stop.told = true;
  },

  "note-lost"(walk, body) {
    const note = noteAtItsStep(walk, body.note);
    if (!note) return;
    walk.unless(note.state === "recording", "loses a note that was not being recorded");
    endRecording(walk, note, "lost");
  },

  "note-written"(walk, { photo }) {
    walk.here();
    photoWasTaken(walk, photo);
    if (walk.stop && walk.lost.has("microphone")) walk.stop.told = true;
  },

  "transcript-made"(walk, body) {
    const note = noteAtItsStep(walk, body.note);
    if (!note) return;
    walk.unless(note.state === "recorded", "is of a note without sound");
    note.written = true;
  },

  "transcript-corrected"(walk, body) {
    const note = noteAtItsStep(walk, body.note);
    if (note) walk.unless(note.written, "corrects a transcript that is not there");
  },

  corrected(walk, { of }, event) {
    walk.unless(of < event.sequence, "corrects an event that is not before it");
  },

  "device-lost"(walk, { device }) {
    walk.lost.add(device);
  },

  "device-returned"(walk, { device }) {
    walk.lost.delete(device);
  },

  "job-left"(walk) {
    walk.left = true;
  },

  "job-resumed"(walk) {
    walk.here();
    walk.left = false;
    walk.lost.clear();
  },
});

/** SHA-256 of the photo that counted until now for the same view, or null; the new one counts. */
function replacedPhoto(walk, body, event) {
  const forStop = body.purpose === "stop-reason";
  const photos = forStop ? walk.stop?.rule.photos : walk.stop ? null : walk.step(event.step)?.photos;
  if (!forStop) walk.touch();
  if (!walk.unless(photos?.some((photo) => photo.id === body.wanted), "is for a view that is not wanted here")) return null;
  const before = walk.photoFor.get(body.wanted);
  walk.photoFor.set(body.wanted, { sequence: event.sequence, name: body.photo.sha256 });
  return before && (forStop || walk.counts(before.sequence, event.step)) ? before.name : null;
}

function photoAtItsStep(walk, name) {
  const photo = walk.photos.get(name);
  if (!photo) walk.say("names a photo that was not taken before it");
  else walk.unless(photo.step === walk.event.step, "is at another step than its photo");
  return photo;
}

function photoWasTaken(walk, name) {
  walk.unless(name === null || walk.photos.has(name), "names a photo that was not taken before it");
}

function noteAtItsStep(walk, name) {
  const note = walk.notes.get(name);
  if (!note) walk.say("names a note that was not started before it");
  else walk.unless(note.step === walk.event.step, "is at another step than its note");
  return note;
}

function endRecording(walk, note, state) {
  if (note.state === "recording") walk.recording -= 1;
  note.state = state;
}

/** What is wrong with a reading's value as such; null when nothing is. */
function valueProblem(value, asked) {
  if (asked.text) return isBlank(value) ? "is blank" : null;
  const number = value.length <= 30 && /^-?[0-9]+(?:\.([0-9]+))?$/.exec(value);
  if (!number) return "is not a plain decimal number";
  return (number[1] ?? "").length <= (asked.decimals ?? 0) ? null : "has more decimals than asked for";
}

function isWithin(value, asked) {
  const [low, high] = [asked["at-least"], asked["at-most"]];
  if (asked.text || (low === undefined && high === undefined)) return null;
  return (low === undefined || compareDecimals(value, String(low)) >= 0) && (high === undefined || compareDecimals(value, String(high)) <= 0);
}
