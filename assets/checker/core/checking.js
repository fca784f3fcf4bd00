// One package checked from end to end, in the order in which the checks are shown.

// A check is not made when one that it needs does not hold (format, section 8).
const NEEDS = {
  key: ["seal"],
  originals: ["journal-chain", "checksums", "nothing-extra"],
  conduct: ["journal-chain"],
  record: ["journal-chain"],
  report: ["journal-chain", "originals"],
  clocks: ["journal-chain"],
  "time-bracket": ["seal", "journal-chain"],
};

/** A result in which nothing was judged yet, with every field that a result has. */
function emptyResult(file) {
  return { package: file.name, checks: [], facts: null, altered: [], withheld: [], files: [], top: null };
}

/**
 * Check a package. `trust` is null or {list, signature, key}, bytes of the depot's three
 * files. `progress(done, total, words)` is called often. The result is plain data.
 */
async function checkPackage(file, trust = null, progress = () => {}) {
  const result = emptyResult(file);
  progress(0, file.size, "Looking at the ZIP file");
  let archive;
  try {
    archive = await readArchive(file);
  } catch (error) {
    if (error instanceof NoPackage) return unreadable(result, error.message);
    if (!(error instanceof Unsound)) throw error;
    return unsound(result, error.items);
  }
  return new Checking(file, archive, trust, progress, result).run();
}

/** Nothing there to judge. */
function unreadable(result, why) {
  return Object.assign(result, {
    verdict: "unreadable", exit_status: 2, failed: [], checks: [],
    overall: `This is not a package that can be checked: ${why}. Copy it again from where it came from.`,
  });
}

/** An archive from which nothing is read. */
function unsound(result, items) {
  result.checks = CHECK_NAMES.map((name) =>
    name === "archive"
      ? fails(name, "The ZIP file is not built as a package must be, so nothing in it was read.", items)
      : notChecked(name, "Because the check “Package file” failed."),
  );
  return conclude(result);
}

class Checking {
  constructor(file, archive, trust, progress, result) {
    this.pack = new Pack(file, archive);
    this.trust = trust;
    this.progress = progress;
    this.result = result;
    this.digests = new Map();
    this.found = new Map();
    result.top = archive.top;
  }

  async run() {
    const count = this.pack.files.size;
    this.put(holds("archive", `${count} plain files stored end to end in one ZIP file.`));
    await this.hashAll();
    this.progress(1, 1, "Following the journal");
    await this.readJournal();
    await this.judgeFiles();
    await this.judgeSeal();
    this.put(judged("journal-chain", this.journal.problems,
      `${this.journal.count} events in one unbroken chain, from opening to closing.`, "The journal is not one unbroken chain."));
    this.tellReworded();
    await this.judgeContent();
    if (!this.practice.said) await this.practice.seePhotos(this.pack);
    this.judgePractice();
    this.tellFacts();
    this.result.told = this.told();
    this.listFiles();
    this.result.checks = CHECK_NAMES.map((name) => this.found.get(name));
    return conclude(this.result);
  }

  put(check) {
    this.found.set(check.name, check);
  }

  /** Make a check unless one that it needs does not hold. */
  async make(name, judge) {
    const missing = (NEEDS[name] || []).find((needed) => this.found.get(needed).outcome !== HOLDS);
    if (!missing) this.put(await judge());
    else this.put(notChecked(name, `It needs ${missing}, which ${this.found.get(missing).outcome === FAILS ? "fails" : "was not checked"}.`));
  }

  async hashAll() {
    const names = this.pack.names();
    const total = names.reduce((sum, name) => sum + this.pack.size(name), 0);
    let done = 0;
    // One after the other: several at once would be little faster and hold several files in memory.
    for (const name of names) {
      const digest = await hashBlob(this.pack.blob(name), (bytes) => {
        done += bytes;
        this.progress(done, total, "Computing checksums");
      });
      this.digests.set(name, digest);
    }
  }

  async readJournal() {
    this.originals = new Originals(this.digests);
    this.clocks = new Clocks();
    this.withdrawn = new Withdrawn();
    this.practice = new PracticeSigns();
    this.tickets = new Tickets();
    this.dispositions = new Dispositions();
    this.media = new Media();
    const watchers = [this.originals, this.clocks, this.withdrawn, this.practice, this.tickets, this.dispositions, this.media];
    this.journal = await Journal.read(this.pack, watchers);
  }

  async judgeFiles() {
    const bag = await judgeBag(this.pack);
    if (!this.journal.broken) bag.problems.push(...infoAgainstJournal(bag.told, this.journal.first?.body, this.tickets.opened[0]?.body));
    const listed = new Map([...(bag.manifest || []), ...(bag.tagManifest || [])]);
    const payload = bag.manifest ? bag.manifest.size : 0;
    this.listed = listed;
    this.withheld = bag.withheld;
    this.result.withheld = [...bag.withheld.keys()];
    this.put(judged("bag", bag.problems, `BagIt 1.0; its manifest lists ${payload} payload files.`,
      "The bag's own files are not in order."));
    if (!bag.manifest || !bag.tagManifest) {
      this.put(notChecked("checksums", "A list of checksums is missing or cannot be read in one way."));
    } else {
      for (const [path, expected] of listed) this.compareChecksum(path, expected);
      const items = this.result.altered.map((file) =>
        file.found === null ? `${shown(file.path)}: is missing` : `${shown(file.path)}: has another SHA-256 than listed`);
      const left = this.withheld.size;
      const held = left
        ? `The ${listed.size - left} listed files that are in this copy have their SHA-256.`
        : `All ${listed.size} listed files have their SHA-256.`;
      this.put(judged("checksums", items, held, "A file is altered or missing."));
      if (!items.length) this.found.get("checksums").items = [...this.withheld.keys()].map((path) => `${path}: withheld, SHA-256 ${listed.get(path)}`);
    }
    if (bag.manifest) {
      this.put(judged("nothing-extra", extraProblems(this.pack, bag.manifest),
        "There is nothing in it that is not listed.", "There are files in it that do not belong to it."));
    } else {
      this.put(notChecked("nothing-extra", "The list of the payload is missing or cannot be read in one way."));
    }
  }

  compareChecksum(path, expected) {
    const found = this.digests.get(path) ?? null;
    if (found === null && this.withheld.has(path)) return;
    if (found !== expected) this.result.altered.push({ path, step: this.originals.stepOf(path), expected, found });
  }

  async judgeSeal() {
    const { problems, unsupported, seal, keyName } = await judgeSeal(this.pack, this.journal);
    this.seal = seal;
    this.keyName = keyName;
    this.token = await tokenOf(this.pack);
    if (unsupported && !problems.length) {
      this.put(notChecked("seal", "This browser does not know Ed25519, so the signature could not be checked. Use a newer browser, or openssl as the package format describes."));
    } else {
      this.put(judged("seal", problems,
        this.journal.broken
          ? "The signature holds, and key and lists are those that it names; the journal cannot be read to compare it."
          : "The signature holds, and key, lists and journal are those that it names.",
        "The seal does not hold for this content."));
    }
    this.list = null;
    if (this.trust) await this.openList();
    await this.make("key", () => this.judgeKey());
  }

  async openList() {
    try {
      this.list = await openKeyList(this.trust);
    } catch (error) {
      if (!(error instanceof Error)) throw error;
      this.listProblem = error.message;
    }
  }

  /** The job's technician as the journal has the name; null where it does not say it. */
  technician() {
    return this.journal.broken || this.journal.firstReworded ? null : this.journal.first?.body?.technician;
  }

  async judgeKey() {
    let handovers;
    try {
      handovers = await readHandovers(this.pack, this.keyName);
    } catch (error) {
      if (!(error instanceof Error)) throw error;
      return fails("key", "The handovers that lead to the key that sealed it do not hold.", [error.message], "handed-over-wrongly");
    }
    const isRole = this.journal.firstReworded;
    const technician = this.technician();
    const token = this.token?.moment ?? null;
    if (this.list) {
      const judged = judgeKeyOf(this.list, handovers, this.keyName, this.seal.closed_at, token, technician);
      if (isRole) judged.items.push("whether its technician is among the key's owners cannot be checked: a role stands for the name");
      return judged;
    }
    if (this.listProblem) return notChecked("key", `The key list cannot be used: ${this.listProblem}.`);
    return notChecked("key", "No key list of the depot was given, so whose key sealed it is not known.");
  }

  /** What a copy with roles in the place of names can still show, and what not. */
  tellReworded() {
    const chain = this.found.get("journal-chain");
    const { count, reworded } = this.journal;
    this.result.reworded = this.withheld.has(JOURNAL) ? reworded.length : 0;
    if (!reworded.length || chain.outcome !== HOLDS) return;
    this.put(holds("journal-chain", `${count} events in one unbroken chain, from opening to closing; of those reworded to replace names by roles the hash is known, and what they say now cannot be checked.`, reworded));
  }

  async judgeContent() {
    await this.make("originals", async () =>
      judged("originals", [...this.originals.judge(this.pack, this.digests, this.withheld, this.listed), ...(await this.media.judge(this.pack, this.originals))],
        `The journal names ${this.originals.places.size} files; each is there${this.withheld.size ? " or withheld under its checksum" : ""} and no other. Photos were not judged and measured again here; the app does that.`, "Files and journal do not fit each other."));
    await this.make("conduct", () => this.judgeConduct());
    await this.make("record", () => judgeRecord(this.pack, this.seal, this.journal, this.withheld));
    await this.make("report", () =>
      this.withheld.has("data/report.html")
        ? notChecked("report", "It is withheld from this copy; its checksum is known.")
        : this.pack.has("data/report.html")
        ? notChecked("report", "Its claim, serial number, outcome, disposition and fingerprint are the journal's, and its pictures and sounds are originals. Its other words were not compared here; the app does that.")
        : fails("report", "There is no report.", ["data/report.html: is missing"]));
    await this.make("clocks", async () => {
      const future = this.journal.lastMoment > Date.now() + PATIENCE ? [`event ${this.journal.count}: is later than this computer's clock`] : [];
      const problems = [...this.clocks.problems, ...future, ...(await this.clocks.judgePhotos(this.pack, this.originals))];
      if (problems.length) return fails("clocks", "The times contradict each other.", problems);
      const recorded = this.clocks.recorded;
      return recorded.length
        ? holds("clocks", "What moved the clocks was recorded where it happened:", recorded)
        : holds("clocks", "Wall clock and monotonic clock agree from beginning to end.");
    });
    await this.make("time-bracket", () =>
      judgeBracket(this.pack, this.tickets, this.originals, this.token, this.seal, this.list, this.technician()));
  }

  /** The journal a second time, now beside its step list. */
  async judgeConduct() {
    const bytes = await this.pack.bytes(STEP_LIST);
    if (!this.pack.has(STEP_LIST)) return notChecked("conduct", "There is no step list to compare the work with.");
    if (!bytes) return fails("conduct", "The step list is too large.", [`${STEP_LIST}: is too large`]);
    const named = this.journal.first.body.step_list;
    if (!isObject(named) || named.sha256 !== this.digests.get(STEP_LIST)) {
      return notChecked("conduct", "The step list in the package is not the one that the journal names.");
    }
    let list;
    try {
      list = openStepList(bytes);
    } catch (error) {
      return fails("conduct", "The step list cannot be used.", [`${STEP_LIST}: ${error.message}`]);
    }
    const conduct = new Conduct(list, this.withdrawn);
    await eachEvent(this.pack, (event) => conduct.see(event));
    const problems = conduct.finish();
    if (problems.length) return fails("conduct", "The journal does not obey its step list.", problems);
    return holds("conduct", `The journal obeys the step list ${list.id} ${list.version} from beginning to end.`, conduct.explained);
  }

  judgePractice() {
    const { said, signs } = this.practice;
    if (said || this.seal?.practice) {
      this.put(fails("practice", "It was made for practice and says nothing about a real device."));
    } else if (signs.length) {
      this.put(fails("practice", "It is not marked as practice, but contains practice material.", signs));
    } else if (!this.seal && !this.journal.first) {
      this.put(notChecked("practice", "Neither seal nor journal could be read."));
    } else {
      this.put(holds("practice", "It is not marked as practice and holds no practice material."));
    }
  }

  /** What a report must say, as the journal gives it. */
  told() {
    const opened = isObject(this.journal.first?.body) ? this.journal.first.body : {};
    const closed = isObject(this.journal.last?.body) ? this.journal.last.body : {};
    return {
      claim: opened.claim, serial: opened.device?.serial, outcome: closed.outcome,
      fingerprint: this.seal?.fingerprint, disposition: this.dispositions.last,
      reasons: this.media.reasons,
    };
  }

  /** What the package says of itself; worth no more than the checks beside it. */
  tellFacts() {
    const opened = isObject(this.journal.first?.body) ? this.journal.first.body : {};
    if (!this.seal) return;
    const { claim, serial, outcome, practice, opened_at, closed_at, events, fingerprint, app, job, device_key_sha256 } = this.seal;
    this.result.facts = {
      claim, serial, outcome, practice, opened_at, closed_at, events, fingerprint, app, job, device_key_sha256,
      step_list: `${this.seal.step_list.id} ${this.seal.step_list.version}`,
      technician: isWords(opened.technician, 4000) ? opened.technician : null,
    };
  }

  listFiles() {
    const altered = new Set(this.result.altered.map((file) => file.path));
    this.result.files = this.pack.names().map((path) => {
      const { at, size } = this.pack.files.get(path);
      const outcome = altered.has(path) ? FAILS : this.fileOutcome(path);
      return { path, at, size, sha256: this.digests.get(path), step: this.originals.stepOf(path), outcome };
    });
  }

  /** The files that no list can hold are covered by the seal, and the token by its own check. */
  fileOutcome(path) {
    if (this.listed.has(path)) return HOLDS;
    if (path === ROLE_JOURNAL) return this.found.get("journal-chain").outcome;
    if (path === "fetch.txt") return this.found.get("bag").outcome;
    if (path === "seal.tsr") return this.found.get("time-bracket").outcome;
    if (UNLISTED_TAGS.includes(path)) return this.found.get("seal").outcome;
    return this.found.get("nothing-extra").outcome;
  }
}
