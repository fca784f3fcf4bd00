// The two clocks of the journal: the wall clock, which anybody can set, against the
// monotonic one, which nobody can. What moved must have been recorded where it moved.

const STEP_TOLERANCE = 2;
const SLEW = 500e-6;
const BY_TOLERANCE = 0.01;
const EXIF_TOLERANCE = 120;
const OWN_CAMERAS = ["camera", "stream", "practice"];

class Clocks {
  constructor() {
    this.previous = null;
    this.problems = [];
    this.recorded = [];
    this.photos = [];
    this.owed = null;
  }

  see(event) {
    if (this.previous) this.compare(this.previous, event);
    if (event.kind === "clock-stepped") this.recorded.push(this.steppedWords(event));
    if (event.kind === "machine-restarted") this.recorded.push(`event ${event.sequence}: the machine was restarted here`);
    if (event.kind === "photo-taken" && OWN_CAMERAS.includes(event.body.source?.kind)) this.photos.push(photoOf(event));
    const { moment, mono_us, boot } = event;
    this.previous = { moment, mono_us, boot };
  }

  compare(before, event) {
    const wall = (event.moment - before.moment) / 1000;
    const owed = this.owed;
    this.owed = null;
    if (owed !== null) {
      this.wantStep(event, owed, "the wall clock reads earlier after the restart");
      return;
    }
    if (event.boot !== before.boot || event.mono_us < before.mono_us) {
      if (event.kind !== "machine-restarted") {
        this.say(event, "the machine was restarted in front of it, and no event says so");
      } else if (wall < 0) {
        this.owed = wall;
      }
      return;
    }
    const elapsed = (event.mono_us - before.mono_us) / 1e6;
    const by = wall - elapsed;
    if (wall < 0 || Math.abs(by) > STEP_TOLERANCE + SLEW * elapsed) {
      this.wantStep(event, by, `the wall clock was moved by ${spanWords(by)} in front of it`);
    }
  }

  wantStep(event, by, what) {
    if (event.kind !== "clock-stepped") this.say(event, `${what}, and no event says so`);
    else if (!(Math.abs(event.body.by_s - by) <= BY_TOLERANCE)) this.say(event, `${what}, and it tells another step`);
  }

  say(event, problem) {
    if (this.problems.length < MOST_ITEMS) this.problems.push(`event ${event.sequence}: ${problem}`);
  }

  steppedWords(event) {
    const by = event.body.by_s;
    const direction = by < 0 ? "back" : "forward";
    const span = typeof by === "number" ? spanWords(by) : "an unknown time";
    return `event ${event.sequence}: the wall clock went ${direction} by ${span} here`;
  }

  /** Problems with the photos' own times; `originals` says where each photo stands. */
  async judgePhotos(pack, originals) {
    const problems = [];
    for (const { sequence, moment, sha256: name } of this.photos) {
      const path = originals.pathOf(name);
      const head = path && (await pack.head(path, EXIF_HEAD));
      if (!head) continue;
      const taken = momentOf(exifTaken(head));
      if (taken === null) {
        problems.push(`${path}: comes from the app's own camera and has no time with offset in it`);
      } else if (Math.abs(taken - moment) > EXIF_TOLERANCE * 1000) {
        problems.push(`${path}: was taken ${spanWords((taken - moment) / 1000)} away from event ${sequence}`);
      }
    }
    return problems;
  }
}

function photoOf(event) {
  return { sequence: event.sequence, moment: event.moment, sha256: event.body.photo?.sha256 };
}
