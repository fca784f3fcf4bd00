// The summary, as far as it can be judged without making it again: its spelling and
// what it says of the job as a whole.

const RECORD = "data/record.json";
const RECORD_FORMATS = ["evidence-record/1", "evidence-record/2"];
const LARGEST_RECORD = 256 * 2 ** 20;

async function judgeRecord(pack, seal, journal, withheld) {
  if (withheld.has(RECORD)) return notChecked("record", "It is withheld from this copy; its checksum is known.");
  const failed = (problem) => fails("record", "The summary does not follow from the journal.", [`${RECORD}: ${problem}`]);
  if (!pack.has(RECORD)) return failed("is missing");
  const bytes = await pack.bytes(RECORD, LARGEST_RECORD);
  if (!bytes) return failed("is too large");
  let record;
  try {
    record = readCanonical(bytes);
  } catch (error) {
    return failed(error.message);
  }
  if (!RECORD_FORMATS.includes(record?.format)) return failed("has an unknown format");
  const opened = journal.first.body;
  const pairs = [
    ["claim", record.identity?.claim, opened.claim],
    ["serial number", record.identity?.serial, opened.device?.serial],
    ["job", record.identity?.job, opened.job],
    ["practice", record.identity?.practice, opened.practice],
    ["outcome", record.outcome?.outcome, journal.last.body.outcome],
  ];
  for (const [what, told, found] of pairs) {
    if (told !== found) return failed(`tells another ${what} than the journal`);
  }
  return notChecked("record", "It tells the journal's claim, serial number and outcome. The rest was not made again here; the app does that.");
}

/** A watcher of the journal: what the last stop says is to be done with the unit. */
class Dispositions {
  constructor() {
    this.last = null;
  }

  see(event) {
    if (event.kind === "repair-stopped") this.last = event.body.disposition ?? null;
  }
}
