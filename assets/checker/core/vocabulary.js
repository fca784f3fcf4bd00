// The kinds of events and the fields of each (format, section 6). A field that may
// be left out ends in "?".

const KINDS = Object.fromEntries(
  Object.entries({
    "job-opened": "format app job step_list variant? device claim technician practice clock platform",
    "ticket-opened": "ticket signature nonce issued_at depot",
    "caution-acknowledged": "caution",
    "item-ticked": "list item",
    "step-entered": "reason from?",
    "photo-taken": "photo wanted? purpose width height source retake_of?",
    "photo-judged": "photo passes checks",
    "photo-kept": "photo reason",
    measured: "photo wanted result markup?",
    "hold-started": "at_least_s",
    "hold-ended": "held_s met reason?",
    "hold-lost": "reason",
    "reading-entered": "reading value unit? within? entered_by",
    "finding-given": "finding leads_to",
    "repair-stopped": "rule by reason disposition prohibitions",
    "name-given": "role name",
    "note-started": "note photo?",
    "note-recorded": "note audio seconds photo? cut_short dropouts rate",
    "note-lost": "note reason",
    "note-written": "text photo?",
    "transcript-made": "note text engine",
    "transcript-corrected": "note text",
    corrected: "of text",
    "taken-back": "of",
    "device-lost": "device name message",
    "device-returned": "device name away_s",
    "clock-stepped": "by_s earlier",
    "machine-restarted": "previous_boot",
    "record-recovered": "set_aside finished",
    "job-left": "",
    "job-resumed": "",
    "job-closed": "outcome reason?",
  }).map(([kind, fields]) => [kind, fields.split(" ").filter(Boolean)]),
);

/** What can be said of the conduct without the step list: do the events speak the format's language? */
class Vocabulary {
  constructor() {
    this.problems = [];
    this.closedAt = 0;
  }

  see(event) {
    const say = (what) => {
      if (this.problems.length < MOST_ITEMS) this.problems.push(`event ${event.sequence}: ${what}`);
    };
    if (!Object.hasOwn(KINDS, event.kind)) return say(`the kind ${shown(event.kind)} is unknown`);
    const names = KINDS[event.kind];
    const known = names.map((name) => name.replace("?", ""));
    const unknown = Object.keys(event.body).find((name) => !known.includes(name));
    const missing = names.find((name) => !name.endsWith("?") && !Object.hasOwn(event.body, name));
    if (unknown !== undefined) say(`${event.kind} has the unknown field ${shown(unknown)}`);
    if (missing !== undefined) say(`${event.kind} lacks the field ${missing}`);
    if (event.kind === "job-opened" && event.sequence !== 1) say("the job is opened a second time");
    if (this.closedAt) say("stands behind the end of the job");
    if (event.kind === "job-closed") this.closedAt = event.sequence;
  }
}

/** Signs that a package was made for practice. */
class PracticeSigns {
  constructor() {
    this.said = false;
    this.signs = [];
  }

  see(event) {
    if (event.kind === "job-opened") {
      if (event.body.practice === true) this.said = true;
      if (event.body.clock === "practice") this.sign(event, "the times come from a practice clock");
    }
    if (event.kind === "photo-taken" && event.body.source?.kind === "practice") {
      this.sign(event, "the photo is of a rendered scene");
    }
  }

  sign(event, what) {
    if (this.signs.length < MOST_ITEMS) this.signs.push(`event ${event.sequence}: ${what}`);
  }
}
