// Does the journal obey the step list (format, section 6.1)? A walk over the events that
// were not taken back. What counts at a step is told by numbers of events: something was
// shown by event n, work was sent back by event m, and it counts when n is above m.

const HELD_TOLERANCE_US = 1000;
const NOTE_RATE = 16000;

const WHILE_LEFT = new Set(["job-resumed", "clock-stepped", "machine-restarted", "record-recovered"]);
const WHILE_PENDING = new Set([
  "step-entered", "repair-stopped", "taken-back", "clock-stepped", "machine-restarted", "record-recovered", "job-resumed",
]);
const AFTER_STOP = new Set([
  "photo-taken", "photo-judged", "photo-kept", "name-given", "note-started", "note-recorded", "note-lost",
  "note-written", "transcript-made", "transcript-corrected", "corrected", "taken-back", "device-lost",
  "device-returned", "clock-stepped", "machine-restarted", "record-recovered", "job-left", "job-resumed", "job-closed",
]);

/** A watcher of the journal, for a second reading; `problems` are its findings. */
class Conduct {
  constructor(list, withdrawn) {
    this.list = list;
    this.withdrawn = withdrawn;
    this.problems = [];
    this.steps = [];
    this.askedAt = new Map(); // the counts of the variant's steps, by step
    this.askedOf = new Map(); // and by thing
    this.current = null;
    this.cautions = new Set();
    this.acknowledged = new Set();
    this.ticked = new Set();
    this.ticket = false;
    this.sentBack = new Map(); // step: the last redo that reached it
    this.touched = new Map(); // step: the last photo, hold or reading at it
    this.heldBy = new Map(); // step: the end of a hold that was long enough
    this.readBy = new Map(); // reading: its last entry
    this.photoFor = new Map(); // wanted: {sequence, name} of its last photo
    this.goesOn = new Map(); // step: its last finding, when that goes on
    this.countedBy = new Map(); // step and thing: {sequence, step, more, explained} of its last count
    this.explained = [];
    this.redone = new Map(); // step: how often its findings led to a redo
    this.photos = new Map(); // SHA-256: what is known of the photo
    this.notes = new Map();
    this.recording = 0;
    this.card = null;
    this.hold = null;
    this.pending = null;
    this.stop = null;
    this.serialRead = null;
    this.lost = new Set();
    this.left = false;
    this.closed = false;
  }

  see(event) {
    this.event = event;
    this.follows();
    const form = bodyProblem(event);
    if (form) return this.say(form);
    const refused = this.withdrawn.problems.get(event.sequence);
    if (refused) this.say(refused);
    if (this.withdrawn.passedOver.has(event.sequence)) return;
    if (this.closed) return this.say("comes after the end of the job");
    if (this.stop && !AFTER_STOP.has(event.kind)) return this.say("is not allowed after the repair was stopped");
    if (this.left && !WHILE_LEFT.has(event.kind)) this.say("comes while the job is left");
    if (this.pending && !WHILE_PENDING.has(event.kind)) this.say("comes before what the last finding leads to");
    CONDUCT_OF[event.kind]?.(this, event.body, event);
  }

  say(what) {
    if (this.problems.length >= MOST_ITEMS) return;
    const { sequence, kind, step } = this.event;
    const place = step === null ? "" : `, step ${shown(step)}`;
    this.problems.push(`event ${sequence} (${shown(kind)}${place}): ${what}`);
  }

  unless(holding, what) {
    if (!holding) this.say(what);
    return holding;
  }

  /** Number, run of the machine and monotonic clock against the event before. */
  follows() {
    const { event, before } = this;
    this.before = event;
    if (!before) return void this.unless(event.kind === "job-opened" && event.sequence === 1, "is not the opening of a job");
    this.unless(event.sequence === before.sequence + 1, "does not have the next number");
    const steady = event.boot === before.boot && event.mono_us >= before.mono_us;
    this.unless(steady || event.kind === "machine-restarted", "the monotonic clock goes back, or is of another run of the machine");
  }

  here() {
    return this.unless(this.event.step === this.current, `is not at the current step, ${shown(this.current ?? "none")}`);
  }

  /** The step of the list, when the variant has it. */
  step(id) {
    return this.steps.find((step) => step.id === id) ?? null;
  }

  touch() {
    this.touched.set(this.event.step, this.event.sequence);
  }

  /** Does what event `sequence` showed at a step count still? */
  counts(sequence, step) {
    return sequence !== undefined && sequence > (this.sentBack.get(step) ?? 0);
  }

  photoCounts(wanted) {
    const photo = this.photos.get(this.photoFor.get(wanted)?.name);
    return photo !== undefined && (photo.kept || photo.passes === true);
  }

  /** What a step owes but its finding, in words. */
  owedBeforeFinding(step) {
    const owed = [];
    if (step.hold && !this.counts(this.heldBy.get(step.id), step.id)) owed.push("its hold");
    for (const { id } of step.readings) if (!this.counts(this.readBy.get(id), step.id)) owed.push(`the reading ${id}`);
    owed.push(...this.owedCounts(step));
    for (const { id } of step.photos) {
      if (!this.counts(this.photoFor.get(id)?.sequence, step.id) || !this.photoCounts(id)) owed.push(`the photo ${id}`);
    }
    return owed;
  }

  owed(step) {
    const owed = this.owedBeforeFinding(step);
    const found = this.goesOn.get(step.id);
    const covers = this.counts(found, step.id) && found > (this.touched.get(step.id) ?? 0);
    return step.rules && !covers ? [...owed, "a finding that goes on"] : owed;
  }

  /** The count of a thing at a step, when it still counts. */
  countAt({ step, thing }) {
    const count = this.countedBy.get(`${step} ${thing}`);
    return this.counts(count?.sequence, step) ? count : undefined;
  }

  /** What is not counted at a step, and what does not balance after its last count. */
  owedCounts(step) {
    return (this.askedAt.get(step.id) ?? []).flatMap((asked) => {
      if (!this.countAt(asked)) return [`the count of ${asked.thing}`];
      const places = this.askedOf.get(asked.thing);
      const found = places.map((place) => this.countAt(place)).filter((count) => count);
      const newest = found.reduce((one, other) => (other.sequence > one.sequence ? other : one));
      const balances = found.reduce((sum, count) => sum + count.more, 0) === 0;
      return places.at(-1) === asked && !balances && !newest.explained ? [`a reason why ${asked.thing} does not balance`] : [];
    });
  }

  /** The stop rules of the things of which a count differs from the list. */
  missingPieceRules() {
    const differs = ({ id }) => this.askedOf.get(id)?.some((asked) => this.countAt(asked)?.more);
    return this.list.counted.filter(differs).map(({ missing }) => missing);
  }

  /** The photos of a step that count and lack the measurement that they ask for. */
  unmeasured(step) {
    return step.photos.filter(({ id, measurement }) => {
      const photo = this.photos.get(this.photoFor.get(id)?.name);
      return measurement && photo && this.counts(this.photoFor.get(id).sequence, step.id) && this.photoCounts(id) && !photo.measured;
    });
  }

  owedByStop() {
    const { rule } = this.stop;
    const owed = rule.photos.filter(({ id }) => !this.photoCounts(id)).map(({ id }) => `the photo ${id}`);
    if (rule.spoken && !this.stop.told) owed.push("the spoken reason");
    return [...owed, ...rule.names.filter((role) => !this.stop.named.has(role)).map((role) => `the name of the ${role}`)];
  }

  finish() {
    if (!this.closed) this.problems.push("the journal ends without the job being closed");
    return this.problems;
  }
}
