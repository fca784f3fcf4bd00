// Which names may stand in a package: plain ASCII that means one and the same
// file on every system.

const LONGEST_NAME = 240;
const DEVICE_NAME = /^(?:con|prn|aux|nul|com[1-9]|lpt[1-9])(?:\.|$)/i;

/** What is wrong with a name, or null. `name` has one character for each byte. */
function nameProblem(name) {
  if (name === "") return "is empty";
  if (name.startsWith("/")) return "is absolute";
  if (name.length > LONGEST_NAME) return `is longer than ${LONGEST_NAME} bytes`;
  if (/[^\x20-\x7e]/.test(name)) return "has characters other than printable ASCII";
  if (/[\\<>:"|?*]/.test(name)) return "has a character that Windows does not allow in a name";
  for (const part of name.split("/")) {
    if (part === "") return "has an empty part or is a folder";
    if (part === "." || part === "..") return `has the part "${part}", which leads elsewhere`;
    if (/[. ]$/.test(part)) return "has a part that ends in a dot or a space";
    if (DEVICE_NAME.test(part)) return "has a part that is a device on Windows";
  }
  return null;
}

/** A sentence for each pair of names that some system takes for one file. */
function twinProblems(names) {
  const problems = [];
  const seen = new Map();
  for (const name of names) {
    const key = name.toLowerCase();
    const first = seen.get(key);
    if (first === name) problems.push(`${shown(name)}: is there twice`);
    else if (first !== undefined) problems.push(`${shown(name)}: is ${shown(first)} in other letters`);
    else seen.set(key, name);
  }
  for (const [key, name] of seen) {
    for (let at = key.indexOf("/"); at >= 0; at = key.indexOf("/", at + 1)) {
      const file = seen.get(key.slice(0, at));
      if (file === undefined) continue;
      problems.push(`${shown(file)}: is a file and also the folder of ${shown(name)}`);
      break;
    }
  }
  return problems;
}

/** Text reduced to ASCII letters, digits, ".", "_" and single hyphens. */
function portableName(text, longest) {
  const plain = text
    .normalize("NFKD")
    .replace(/[^\x00-\x7f]/g, "")
    .replace(/[^A-Za-z0-9._]+/g, "-")
    .replace(/\.{2,}/g, ".");
  return plain.replace(/^[-.]+|[-.]+$/g, "").slice(0, longest).replace(/[-.]+$/, "");
}

function topFolderName(claim, job) {
  return `evidence-${portableName(claim, 40) || "claim"}-${portableName(job, 8) || "job"}`;
}
