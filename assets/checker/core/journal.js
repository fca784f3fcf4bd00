// The journal: one event a line, each line in one spelling, each hash following
// from the one before. Read in pieces and handed on event by event.

const JOURNAL = "data/journal.jsonl";
const LONGEST_LINE = 2 ** 20;
// In a disclosed copy it stands for the journal, with roles in the place of names.
const ROLE_JOURNAL = "journal-roles.jsonl";
const REWORDED_START = '{"reworded":';
const NAME_FIELDS = { "job-opened": "technician", "name-given": "name" };
const REWORDED_FIELDS = {
  ...NAME_FIELDS, "note-written": "text", "transcript-made": "text", "transcript-corrected": "text",
  corrected: "text", "photo-kept": "reason", "repair-stopped": "reason", "job-closed": "reason",
};
const A_ROLE = /^[a-z][a-z0-9-]{0,63} [1-9][0-9]{0,3}$/;
const LARGEST_JOURNAL = 256 * 2 ** 20;
const MOST_EVENTS = 1000000;
const MOST_ITEMS = 50;
const GENESIS = "0".repeat(64);
const LINE_START = '{"event":';
const LINE_MIDDLE = ',"hash":"';
const LINE_END = '"}';
const TAIL = LINE_MIDDLE.length + 64 + LINE_END.length;
const EVENT_FIELDS = ["actor", "body", "boot", "kind", "mono_us", "sequence", "step", "wall"];

class Journal {
  /** `watchers` have see(event), called with each event in turn. */
  constructor(watchers) {
    this.watchers = watchers;
    this.problems = [];
    this.count = 0;
    this.head = GENESIS;
    this.broken = false;
    this.first = null;
    this.last = null;
    this.reworded = [];
  }

  static async read(pack, watchers) {
    const journal = new Journal(watchers);
    const name = journalOf(pack);
    journal.mayReword = name === ROLE_JOURNAL;
    if (!pack.has(name)) journal.refuse(`${name}: is missing`);
    else if (pack.size(name) > LARGEST_JOURNAL) journal.refuse(`${name}: is too large`);
    else await eachLine(pack.blob(name), (line, whole) => journal.take(line, whole));
    journal.finish();
    return journal;
  }

  /** A line, or the whole file, that is not read on. */
  refuse(problem) {
    this.say(problem);
    this.broken = true;
  }

  get sound() {
    return this.problems.length === 0;
  }

  /** One line without its LF; `whole` is false for a last line that has none. */
  take(line, whole) {
    this.count += 1;
    if (this.count > MOST_EVENTS) return this.refuse(`${JOURNAL}: has more than ${MOST_EVENTS} events`);
    const split = whole && line.length <= LONGEST_LINE ? splitLine(line, this.mayReword) : null;
    if (!split) return this.refuse(`line ${this.count}: is not an event and its hash, or is not ended`);
    const previous = this.head;
    this.head = split.hash;
    if (this.count === 1) Object.assign(this, { first: loosely(split.event), firstReworded: split.reworded });
    this.lastBytes = split.event;
    if (!this.broken) this.judge(split, previous);
  }

  judge({ event: bytes, hash, reworded }, previous) {
    let event;
    try {
      event = readCanonical(bytes);
      const wrong = eventProblem(event);
      if (wrong) throw new Error(wrong);
    } catch (error) {
      this.broken = true;
      this.problems.push(`line ${this.count}: ${error.message}; what follows was not judged`);
      return;
    }
    const named = `event ${event.sequence} (${shown(event.kind)})`;
    if (event.sequence !== this.count) this.say(`${named}: stands in place ${this.count}`);
    if (reworded) {
      const said = event.body[REWORDED_FIELDS[event.kind]];
      const isSaid = typeof said === "string" && said !== "";
      if (!isSaid || (NAME_FIELDS[event.kind] && !A_ROLE.test(said))) this.say(`${named}: has no role where one can stand`);
      this.reworded.push(`event ${event.sequence} (${shown(event.kind)}): reworded for disclosure`);
    } else if (chainHash(previous, bytes) !== hash) {
      this.say(`${named}: its hash does not follow from its content and the event before it`);
    }
    if (this.count === 1) this.judgeFirst(event);
    this.lastKind = event.kind;
    event.moment = momentOf(event.wall);
    this.lastMoment = event.moment;
    for (const watcher of this.watchers) watcher.see(event);
  }

  judgeFirst(event) {
    if (event.kind !== "job-opened") this.say("the first event is not job-opened");
    else if (event.body.format !== 1) {
      const told = shown(canonical(event.body.format ?? null));
      this.say(`the journal has the format ${told}, perhaps a newer one; this page knows 1`);
    }
  }

  finish() {
    if (this.lastBytes) this.last = loosely(this.lastBytes);
    if (this.count === 0 && this.sound) this.refuse(`${JOURNAL}: has no events`);
    if (!this.broken && this.lastKind !== "job-closed") this.say("the last event is not job-closed");
  }

  say(problem) {
    if (this.problems.length < MOST_ITEMS) this.problems.push(problem);
  }

  /** What the seal can be compared with: nothing when a line cannot be read, else what is there. */
  toCompare() {
    if (this.broken) return {};
    const opened = isObject(this.first?.body) ? this.first.body : {};
    const closed = isObject(this.last?.body) ? this.last.body : {};
    const list = opened.step_list;
    return {
      events: this.count,
      journal_head: this.head,
      job: opened.job,
      claim: opened.claim,
      serial: opened.device?.serial,
      practice: opened.practice,
      step_list: isObject(list) ? { id: list.id ?? null, version: list.version ?? null, sha256: list.sha256 ?? null } : undefined,
      opened_at: this.first?.wall,
      closed_at: this.last?.wall,
      outcome: closed.outcome,
    };
  }
}

function chainHash(previous, bytes) {
  const start = Uint8Array.from(previous, (character) => character.charCodeAt(0));
  return toHex(new Sha256().update(start).update(bytes).digest());
}

function journalOf(pack) {
  return pack.has(ROLE_JOURNAL) ? ROLE_JOURNAL : JOURNAL;
}

function splitLine(line, mayReword) {
  const middle = line.length - TAIL;
  const reworded = mayReword && latin1(line.subarray(0, REWORDED_START.length)) === REWORDED_START;
  const begin = reworded ? REWORDED_START : LINE_START;
  if (middle <= begin.length || latin1(line.subarray(0, begin.length)) !== begin) return null;
  const tail = latin1(line.subarray(middle));
  const hash = tail.slice(LINE_MIDDLE.length, -LINE_END.length);
  if (!tail.startsWith(LINE_MIDDLE) || !tail.endsWith(LINE_END) || !IS_DIGEST.test(hash)) return null;
  return { event: line.slice(begin.length, middle), hash, reworded };
}

/** The event as any reader would take it, for looking only; null when it is no object. */
function loosely(bytes) {
  try {
    const event = JSON.parse(utf8(bytes));
    return isObject(event) ? event : null;
  } catch {
    return null;
  }
}

function eventProblem(event) {
  const fields = fieldsProblem(event, EVENT_FIELDS);
  if (fields) return fields;
  if (!isCount(event.sequence, 1)) return "the sequence is not a number from 1";
  if (!isCount(event.mono_us)) return "the monotonic time is not a number from 0";
  if (!isWords(event.kind, 64) || !/^[a-z]+(-[a-z]+)*$/.test(event.kind)) return "the kind is not a word";
  if (event.step !== null && !isWords(event.step)) return "the step is not a name";
  if (!isWords(event.boot) || !isWords(event.actor)) return "boot or actor is not a name";
  if (!isObject(event.body)) return "the body is not an object";
  if (momentOf(event.wall) === null) return `${shown(event.wall)} is not a time that exists`;
  return null;
}

/** Call `take(line, whole)` for each line of a Blob; too long ones are handed on cut. */
async function eachLine(blob, take) {
  let rest = new Uint8Array(0);
  for (let at = 0; at < blob.size; at += LONGEST_LINE) {
    const piece = new Uint8Array(await blob.slice(at, at + LONGEST_LINE).arrayBuffer());
    const bytes = new Uint8Array(rest.length + piece.length);
    bytes.set(rest);
    bytes.set(piece, rest.length);
    let start = 0;
    for (let end = bytes.indexOf(10); end >= 0; end = bytes.indexOf(10, start)) {
      take(bytes.subarray(start, end), true);
      start = end + 1;
    }
    rest = bytes.slice(start);
    if (rest.length > LONGEST_LINE) return take(rest, false);
  }
  if (rest.length) take(rest, false);
}

/** Each event of a journal that was read before and found sound. */
async function eachEvent(pack, see) {
  await eachLine(pack.blob(journalOf(pack)), (line) => see(JSON.parse(utf8(splitLine(line, true).event))));
}
