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

/** The check `report` again, with the page at hand; changes the result. */
async function judgeReport(result, file) {
  const check = result.checks.find((candidate) => candidate.name === "report");
  const entry = result.files.find((candidate) => candidate.path === "data/report.html");
  if (!entry || entry.size > LARGEST_SHOWN_REPORT) return false;
  const text = await blobOf(file, entry).text();
  const problems = reportProblems(text);
  if (!problems.length) return true;
  if (check.outcome === NOT_CHECKED && !check.sentence.startsWith("It needs")) {
    Object.assign(check, fails("report", "The report tries to do more than show.", problems));
    conclude(result);
  }
  return false;
}

/** A file of the package as a Blob that reads from the ZIP file. */
function blobOf(file, entry, type = "") {
  return file.slice(entry.at, entry.at + entry.size, type);
}
