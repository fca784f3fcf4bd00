// Signs that a package was made for practice.
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
