// Photos, notes and drawings: each that an event names stands under its name, and
// nothing else does.

const DERIVED = [JOURNAL, "data/record.json", "data/report.html"];

// Kind of event, field of its body, and where the file that it names stands.
const NAMED_FILES = {
  "job-opened": [["step_list", () => "data/step-list.toml"]],
  "ticket-opened": [
    ["ticket", () => "data/ticket/ticket.json"],
    ["signature", () => "data/ticket/ticket.sig"],
  ],
  "photo-taken": [["photo", (name) => `data/photos/${name}.jpg`]],
  "note-recorded": [["audio", (name) => `data/voice/${name}.flac`]],
  measured: [["markup", (name) => `data/markup/${name}.png`]],
};

class Originals {
  /** `digests` is Map of path to the SHA-256 found. */
  constructor(digests) {
    this.byDigest = new Map([...digests].filter(([path]) => path.startsWith("data/")).sort().reverse().map(([path, sum]) => [sum, path]));
    this.places = new Map();
    this.paths = new Map();
    this.problems = [];
  }

  see(event) {
    for (const [field, path] of NAMED_FILES[event.kind] || []) {
      const ref = event.body[field];
      if (event.kind === "measured" && (ref === null || ref === undefined)) continue;
      if (!isObject(ref) || !isDigest(ref.sha256) || !isCount(ref.bytes)) {
        this.problems.push(`event ${event.sequence}: does not say which ${field} it means`);
      } else {
        this.place(event, ref, path);
      }
    }
  }

  /** Where the original with this SHA-256 is, whatever its name. */
  pathOf(sum) {
    return this.byDigest.get(sum);
  }

  place(event, ref, pathOf) {
    const known = this.places.get(ref.sha256);
    if (known) {
      if (known.bytes !== ref.bytes) this.problems.push(`event ${event.sequence}: tells another size than event ${known.sequence}`);
      return;
    }
    const step = portableName(event.step ?? "job", 64).toLowerCase();
    const number = String(event.sequence).padStart(4, "0");
    let path = pathOf(`${number}-${step}-${ref.sha256.slice(0, 8)}`);
    // A second ticket stands beside the first under its event's number.
    if (this.paths.has(path)) path = path.replace(/(\.[^.]*)$/, `-${number}$1`);
    const place = { path, sha256: ref.sha256, bytes: ref.bytes, sequence: event.sequence, step: event.step };
    this.places.set(ref.sha256, place);
    this.paths.set(path, place);
  }

  /** Lines for everything that does not fit; `digests` is Map of path to the SHA-256 found,
   * `withheld` of path to bytes of what a disclosed copy leaves out, `listed` the manifest. */
  judge(pack, digests, withheld, listed) {
    const problems = [...this.problems];
    for (const { path, sha256: wanted, bytes, sequence } of this.places.values()) {
      if (withheld.has(path)) {
        if (listed.get(path) !== wanted || withheld.get(path) !== bytes) problems.push(`${path}: is withheld under another checksum or size than event ${sequence} tells`);
      } else if (!pack.has(path)) problems.push(`${path}: event ${sequence} names it and it is missing`);
      else if (digests.get(path) !== wanted) problems.push(`${path}: is not what event ${sequence} names`);
      else if (pack.size(path) !== bytes) problems.push(`${path}: event ${sequence} tells another size`);
    }
    for (const name of pack.names()) {
      if (!name.startsWith("data/") || DERIVED.includes(name) || this.paths.has(name)) continue;
      problems.push(`${shown(name)}: no event names it`);
    }
    return problems;
  }

  /** The step that a file belongs to: by the journal, or else by the file's own name. */
  stepOf(path) {
    const place = this.paths.get(path);
    if (place) return place.step;
    const found = /^data\/(?:photos|markup|voice)\/\d{4,}-(.+)-[0-9a-f]{8}\.[a-z]+$/.exec(path);
    return found && found[1] !== "job" ? found[1] : null;
  }
}
