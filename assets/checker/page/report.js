// Is the report a page that only shows? The frame that shows it has no script and no
// network in any case; a report that tries is not one that the app made.

const LARGEST_SHOWN_REPORT = 64 * 2 ** 20;
const REFUSED_ELEMENTS =
  "script, iframe, frame, frameset, object, embed, applet, portal, base, form, foreignObject, animate, set, " +
  "animateTransform, animateMotion, meta[http-equiv]:not([http-equiv='Content-Security-Policy']), " +
  "link:not([rel='icon'][href='data:,'])";
const ADDRESS_NAMES = ["src", "srcset", "href", "xlink:href", "poster", "data", "action", "formaction", "background", "ping"];
const HARMLESS_ADDRESS = /^(#|data:,$|data:(image|audio)\/[a-z0-9.+-]+;base64,)/i;
const INSIDE_PACKAGE = /^[a-z0-9_-][a-z0-9._-]*(\/[a-z0-9_-][a-z0-9._-]*)*$/i;

/** What in the text of a report is more than showing, a line for each. */
function reportProblems(text) {
  const page = new DOMParser().parseFromString(text, "text/html");
  const problems = new Set();
  for (const element of page.querySelectorAll(REFUSED_ELEMENTS)) problems.add(`holds the element ${element.localName}`);
  for (const element of page.querySelectorAll("*")) {
    for (const { name, value } of element.attributes) {
      const problem = attributeProblem(element.localName, name.toLowerCase(), value);
      if (problem) problems.add(problem);
    }
  }
  for (const style of page.querySelectorAll("style")) if (loadsSomething(style.textContent)) problems.add("a style loads something");
  return [...problems].slice(0, MOST_ITEMS).map((problem) => `data/report.html: ${problem}`);
}

function attributeProblem(tag, name, value) {
  if (name.startsWith("on")) return `a ${shown(tag)} runs something (${shown(name)})`;
  if (name === "srcdoc") return `a ${shown(tag)} holds another page`;
  if (name === "style" && loadsSomething(value)) return "a style loads something";
  if (!ADDRESS_NAMES.includes(name) || HARMLESS_ADDRESS.test(value)) return null;
  if (tag === "a" && name === "href" && INSIDE_PACKAGE.test(value)) return null;
  return `a ${shown(tag)} loads or leads to ${shown(value)}`;
}

function loadsSomething(css) {
  return /@import|url\(|image-set\(|expression\(|\\[0-9a-f]*[g-z@(]/i.test(css);
}

const HEADLINES = { completed: "Repair completed", stopped: "Repair stopped", abandoned: "Job abandoned", open: "Job not closed" };
const PICTURE_SIDE = 16;
const PICTURE_TOLERANCE = 24;

/** What the report says or shows that the journal and the originals do not give, a line for each. */
async function reportContradictions(text, result, file) {
  const page = new DOMParser().parseFromString(text, "text/html");
  for (const style of page.querySelectorAll("style")) style.remove();
  const said = page.documentElement.textContent.replace(/\s+/g, " ");
  const heading = [...page.querySelectorAll("h1, title")].map((element) => element.textContent.replace(/\s+/g, " ")).join(" ");
  const { claim, serial, outcome, fingerprint, disposition } = result.told;
  const wanted = [claim, serial, fingerprint, HEADLINES[outcome], disposition].filter((words) => typeof words === "string" && words);
  const problems = wanted
    .filter((words) => !said.includes(words.replace(/\s+/g, " ").trim()))
    .map((words) => `does not say ${shown(words)}`);
  for (const [other, words] of Object.entries(HEADLINES)) {
    if (other !== outcome && heading.includes(words)) problems.push(`says ${words}, which the journal does not`);
  }
  problems.push(...(await foreignMedia(page, result, file)));
  return problems.slice(0, MOST_ITEMS).map((problem) => `data/report.html: ${problem}`);
}

/** Sounds are the very bytes of a note; pictures look like a photo or drawing of the package. */
async function foreignMedia(page, result, file) {
  const problems = [];
  const originals = result.files.filter(({ path }) => /^data\/(photos|markup|voice)\//.test(path));
  const sums = new Set(originals.map((entry) => entry.sha256));
  const looks = [];
  let next = 0;
  const moreLooks = async () => {
    while (next < originals.length) {
      const entry = originals[next++];
      const look = PICTURE_TYPES[ending(entry.path)] ? await lookOf(blobOf(file, entry)) : null;
      if (look) return looks[looks.push(look) - 1];
    }
    return null;
  };
  for (const [index, element] of [...page.querySelectorAll("img, audio")].entries()) {
    const blob = blobOfData(element.getAttribute("src") ?? "");
    let known = false;
    if (element.localName === "audio") {
      known = blob !== null && sums.has(await hashBlob(blob));
    } else {
      const look = blob && (await lookOf(blob));
      known = look !== null && looks.some((each) => alike(look, each));
      for (let each; look && !known && (each = await moreLooks()); ) known = alike(look, each);
    }
    if (!known) problems.push(`picture or sound ${index + 1} is none of the originals`);
  }
  return problems;
}

function blobOfData(address) {
  const found = /^data:((?:image|audio)\/[a-z0-9.+-]+);base64,([A-Za-z0-9+/]*={0,2})$/.exec(address);
  if (!found) return null;
  try {
    return new Blob([Uint8Array.from(atob(found[2]), (letter) => letter.charCodeAt(0))], { type: found[1] });
  } catch {
    return null;
  }
}

/** Mean colours on a coarse grid, upright; null for what is no picture. */
async function lookOf(blob) {
  try {
    const whole = await createImageBitmap(blob);
    // Halving again and again means over all pixels, which one large step would not.
    let picture = whole;
    while (Math.min(picture.width, picture.height) >= 4 * PICTURE_SIDE) picture = await drawn(picture, picture.width >> 1, picture.height >> 1);
    return (await drawn(picture, PICTURE_SIDE, PICTURE_SIDE)).getContext("2d").getImageData(0, 0, PICTURE_SIDE, PICTURE_SIDE).data;
  } catch {
    return null;
  }
}

function drawn(picture, width, height) {
  const canvas = new OffscreenCanvas(width, height);
  const context = canvas.getContext("2d");
  context.imageSmoothingQuality = "high";
  context.drawImage(picture, 0, 0, width, height);
  return canvas;
}

function alike(one, other) {
  return one.every((value, index) => Math.abs(value - other[index]) <= PICTURE_TOLERANCE);
}

/** The check `report` again, with the page at hand; changes the result. */
async function judgeReport(result, file) {
  const check = result.checks.find((candidate) => candidate.name === "report");
  const entry = result.files.find((candidate) => candidate.path === "data/report.html");
  if (!entry || entry.size > LARGEST_SHOWN_REPORT) return false;
  const text = await blobOf(file, entry).text();
  const problems = reportProblems(text);
  const open = check.outcome === NOT_CHECKED && !check.sentence.startsWith("It needs");
  const untrue = open && !problems.length ? await reportContradictions(text, result, file) : [];
  if (open && problems.length + untrue.length) {
    const what = problems.length ? "The report tries to do more than show." : "The report does not say or show what the journal gives.";
    Object.assign(check, fails("report", what, [...problems, ...untrue]));
    conclude(result);
  }
  return !problems.length;
}

const QUIET_DBFS = -50;
const HEARD_RATE = 16000;
const HEARD_PIECE = 800;

/** A spoken reason in which nothing is heard is none; changes the result. */
async function judgeReasons(result, file) {
  const check = result.checks.find((candidate) => candidate.name === "originals");
  if (check?.outcome !== HOLDS) return;
  const problems = [];
  for (const entry of result.files.filter(({ sha256: sum }) => result.told.reasons.includes(sum))) {
    const level = entry.size ? await loudest(blobOf(file, entry)) : null;
    if (level === null && entry.size) problems.push(`${entry.path}: cannot be played to its end`);
    if (level < QUIET_DBFS) problems.push(`${entry.path}: is the spoken reason of a stop, and nothing is heard in it`);
  }
  if (!problems.length) return;
  Object.assign(check, fails("originals", "A spoken reason is none.", problems));
  conclude(result);
}

/** The loudest 50 ms in dBFS; null for what cannot be played. */
async function loudest(blob) {
  try {
    const sound = await new OfflineAudioContext(1, 1, HEARD_RATE).decodeAudioData(await blob.arrayBuffer());
    const samples = sound.getChannelData(0);
    let most = 1e-9;
    for (let at = 0; at < samples.length; at += HEARD_PIECE) {
      const piece = samples.subarray(at, at + HEARD_PIECE);
      most = Math.max(most, Math.sqrt(piece.reduce((sum, value) => sum + value * value, 0) / piece.length));
    }
    return 20 * Math.log10(most);
  } catch {
    return null;
  }
}

/** A file of the package as a Blob that reads from the ZIP file. */
function blobOf(file, entry, type = "") {
  return file.slice(entry.at, entry.at + entry.size, type);
}
