// Events that were taken back: found on a first reading of the journal, so that the
// second can pass over them.

const TAKE_BACK_US = 5000000;

const CAN_BE_TAKEN_BACK = new Set([
  "caution-acknowledged", "item-ticked", "step-entered", "hold-started", "hold-ended", "reading-entered",
  "pieces-counted", "finding-given", "photo-kept", "name-given",
]);
const DOES_NOT_HINDER = new Set([
  "note-recorded", "note-lost", "transcript-made", "transcript-corrected", "corrected", "device-lost",
  "device-returned", "clock-stepped",
]);

/** A watcher of the journal. `passedOver` holds the numbers of events that count as if not there. */
class Withdrawn {
  constructor() {
    this.passedOver = new Set();
    this.problems = new Map();
    // What a taking back could mean now: the newest event that hinders, and, when that is
    // the redo of a finding, the finding as well.
    this.newest = null;
    this.findingBefore = null;
  }

  see(event) {
    if (event.kind === "taken-back") this.takeBack(event);
    else if (!DOES_NOT_HINDER.has(event.kind)) this.follow(event);
  }

  follow({ sequence, kind, boot, mono_us, body }) {
    const isRedo = kind === "step-entered" && body.reason === "redo";
    const before = this.newest;
    this.findingBefore = isRedo && before?.leadsToRedo ? before : null;
    const leadsToRedo = kind === "finding-given" && body.leads_to?.action === "redo";
    this.newest = { sequence, kind, boot, mono_us, leadsToRedo };
  }

  takeBack(event) {
    const { of } = event.body;
    const meant = [this.newest, this.findingBefore].find((each) => each && each.sequence === of);
    const problem = this.refusal(event, meant);
    if (problem) {
      this.problems.set(event.sequence, problem);
    } else {
      this.passedOver.add(of);
      if (meant === this.findingBefore) this.passedOver.add(this.newest.sequence);
    }
    // Behind a taking back nothing older can be taken back.
    this.newest = null;
    this.findingBefore = null;
  }

  refusal(event, meant) {
    if (!meant) return "takes back an event that is not before it, or that others have followed";
    if (!CAN_BE_TAKEN_BACK.has(meant.kind)) return `takes back an event that cannot be taken back (${meant.kind})`;
    if (meant.boot !== event.boot) return "takes back an event of another run of the machine";
    const passed = event.mono_us - meant.mono_us;
    return passed >= 0 && passed <= TAKE_BACK_US ? null : "takes back an event that is not within the 5 s before it";
  }
}
