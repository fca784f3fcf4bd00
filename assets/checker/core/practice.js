// Signs that a package was made for practice, which whoever makes it real must have overlooked.

const PRACTICE_RUN = "practice-";
const PRACTICE_CAMERA = "practice camera";

class PracticeSigns {
  constructor() {
    this.said = false;
    this.signs = [];
    this.runs = new Set();
  }

  see(event) {
    if (event.kind === "job-opened") {
      if (event.body.practice !== false) this.said = true;
      if (event.body.clock !== "system") this.sign(event, "the times come from a practice clock");
    }
    if (event.kind === "photo-taken" && event.body.source?.kind === "practice") {
      this.sign(event, "the photo is of a rendered scene");
    }
    if (event.boot.startsWith(PRACTICE_RUN) && !this.runs.has(event.boot)) {
      this.runs.add(event.boot);
      this.sign(event, `is of a practice clock's run, ${shown(event.boot)}`);
    }
  }

  sign(event, what) {
    if (this.signs.length < MOST_ITEMS) this.signs.push(`event ${event.sequence}: ${what}`);
  }

  /** The camera that each photo names in itself. */
  async seePhotos(pack) {
    for (const path of pack.names().filter((name) => name.startsWith("data/photos/"))) {
      const head = await pack.head(path, EXIF_HEAD);
      if (head && exifCamera(head) === PRACTICE_CAMERA && this.signs.length < MOST_ITEMS) {
        this.signs.push(`${path}: was taken by the ${PRACTICE_CAMERA}`);
      }
    }
  }
}
