// What was found, and how it is said: holds, fails or not checked.

const CHECK_NAMES = [
  "archive", "bag", "checksums", "nothing-extra", "seal", "key", "journal-chain", "originals",
  "conduct", "record", "report", "clocks", "time-bracket", "practice",
];

const HOLDS = "holds";
const FAILS = "fails";
const NOT_CHECKED = "not checked";

// What each failure means for somebody who has to rely on the package.
const CONSEQUENCE = {
  archive: "the ZIP file is built so that different programs may see different things in it",
  bag: "its lists of files are not in order",
  checksums: "a file is altered or missing",
  "nothing-extra": "it holds files that do not belong to it",
  seal: "the seal does not hold",
  key: "the key that sealed it is not one that the depot stands behind",
  "journal-chain": "the journal is broken",
  originals: "photos or notes are not those that the journal names",
  conduct: "the work did not follow its step list",
  record: "the summary does not follow from the journal",
  report: "the report is missing, or holds what no report holds",
  clocks: "its times contradict each other",
  "time-bracket": "a proof of time does not hold",
  practice: "it is practice material",
};

function holds(name, sentence, items = []) {
  return { name, outcome: HOLDS, sentence, items };
}

function fails(name, sentence, items = []) {
  return { name, outcome: FAILS, sentence, items };
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
  const failed = result.checks.filter((check) => check.outcome === FAILS).map((check) => check.name);
  const open = result.checks.filter((check) => check.outcome === NOT_CHECKED).map((check) => check.name);
  const made = CHECK_NAMES.length - open.length;
  result.failed = failed;
  result.exit_status = failed.length ? 1 : 0;
  if (failed.length) {
    result.verdict = FAILS;
    const practice = failed.includes("practice") ? "Practice package, never evidence. " : "";
    const others = failed.filter((name) => name !== "practice");
    const reasons = others.map((name) => CONSEQUENCE[name]).join("; ");
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
    result.overall = `The ${made} checks that were made hold. Not checked here: ${open.join(", ")}.`;
  }
  return result;
}
