// What was found, and how it is said: holds, fails or not checked.

const CHECK_NAMES = [
  "archive", "bag", "checksums", "nothing-extra", "seal", "key", "journal-chain", "originals",
  "conduct", "record", "report", "clocks", "time-bracket", "practice",
];

const HOLDS = "holds";
const FAILS = "fails";
const NOT_CHECKED = "not checked";

// What each check is called in front of people; `verify` and the desk use the same words.
const CHECK_LABELS = {
  archive: "Package file",
  bag: "Lists of files",
  checksums: "Checksums",
  "nothing-extra": "Nothing extra",
  seal: "Seal",
  key: "Whose key",
  "journal-chain": "Journal",
  originals: "Photos and notes",
  conduct: "Step list followed",
  record: "Summary",
  report: "Report",
  clocks: "Clocks",
  "time-bracket": "Time from outside",
  practice: "Real, not practice",
};

// What each failure means for somebody who has to rely on the package, in the same words too.
const CONSEQUENCE = {
  archive: "the package file is not built as the app builds it",
  bag: "its lists of files are not in order",
  checksums: "a file is altered or missing",
  "nothing-extra": "it holds files that do not belong to it",
  seal: "its seal does not hold for this content",
  key: "the key that sealed it was not valid when the job was closed",
  "journal-chain": "its journal is broken",
  originals: "its photos and notes are not those that the journal names",
  conduct: "the work did not follow its step list, or the journal contradicts itself",
  record: "its summary does not follow from the journal",
  report: "its report does not say or show what the journal gives",
  clocks: "its times contradict each other",
  "time-bracket": "a proof of when it was made does not hold",
  practice: "it is practice material",
};
// Answers about a key that are not one.
const CONSEQUENCE_BY_CODE = {
  "revoked-before": "the key that sealed it had been revoked before the job was closed",
  "revoked-since":
    "the key that sealed it was valid then and has been revoked since, and nothing from outside shows that the seal is older than that",
  "other-owner": "the key that sealed it belongs to somebody else than its technician",
  "handed-over-wrongly": "the handovers that lead to the key that sealed it do not hold",
  "unknown-key": "the depot's list does not know the key that sealed it",
};

function holds(name, sentence, items = []) {
  return { name, outcome: HOLDS, sentence, items };
}

function fails(name, sentence, items = [], code = "") {
  return { name, outcome: FAILS, sentence, items, code };
}

function notChecked(name, sentence, items = []) {
  return { name, outcome: NOT_CHECKED, sentence, items };
}

/** `problems` empty: holds with the first sentence, else fails with the second. */
function judged(name, problems, held, failed) {
  return problems.length ? fails(name, failed, problems) : holds(name, held);
}

/** The overall line and the verdict that follow from the checks. */
function conclude(result) {
  const failing = result.checks.filter((check) => check.outcome === FAILS);
  const failed = failing.map((check) => check.name);
  const open = result.checks.filter((check) => check.outcome === NOT_CHECKED).map((check) => check.name);
  const made = CHECK_NAMES.length - open.length;
  result.failed = failed;
  result.exit_status = failed.length ? 1 : 0;
  if (failed.length) {
    result.verdict = FAILS;
    const practice = failed.includes("practice") ? "Practice package, never evidence. " : "";
    const others = failing.filter((check) => check.name !== "practice");
    const reasons = others.map((check) => CONSEQUENCE_BY_CODE[check.code] ?? CONSEQUENCE[check.name]).join("; ");
    result.overall = others.length
      ? `${practice}Do not rely on this package: ${reasons}.`
      : `${practice}Nothing else was found to fail, but it shows a rehearsal and says nothing about a real device.`;
  } else if (open.includes("seal")) {
    result.verdict = NOT_CHECKED;
    result.overall =
      "The seal could not be checked in this browser, so anybody may have made this package. " +
      `The ${made} other checks that were made hold.`;
  } else {
    result.verdict = HOLDS;
    result.overall = `The ${made} checks that were made hold. Not checked here: ${open.map((name) => CHECK_LABELS[name]).join(", ")}.`;
  }
  if (result.reworded) result.overall = `Names are replaced by roles in its journal (entries: ${result.reworded}). ${result.overall}`;
  if (result.withheld?.length) {
    const seal = result.facts ? ` of seal ${result.facts.fingerprint}` : "";
    result.overall = `Disclosed copy, not the whole package${seal}: ${result.withheld.length} of its files are withheld, their checksums known. ${result.overall}`;
    if (!failed.length) Object.assign(result, { verdict: NOT_CHECKED, exit_status: 1 });
  }
  return result;
}
