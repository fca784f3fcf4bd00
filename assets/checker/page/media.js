// The report in a frame without script, pictures one at a time, spoken notes. All are
// read out of the ZIP file where they stand; nothing is copied.

const PICTURE_TYPES = { jpg: "image/jpeg", png: "image/png" };
const addresses = [];

function addressOf(blob) {
  addresses.push(URL.createObjectURL(blob));
  return addresses.at(-1);
}

function forgetAddresses() {
  addresses.splice(0).forEach((address) => URL.revokeObjectURL(address));
}

/** What a person must know while looking at a file of this package; empty when nothing fails. */
function warning(result) {
  if (result.failed.includes("practice")) return "PRACTICE, never evidence. ";
  return result.failed.length ? "A check of this package fails: what you see may not be what was sealed. " : "";
}

function reportPart(result, file, isPlain) {
  const entry = result.files.find((candidate) => candidate.path === "data/report.html");
  if (!entry) {
    const why = result.withheld.includes("data/report.html") ? "The report is withheld from this copy." : "There is no report in this package.";
    return part("report", "The report", make("p", {}, why));
  }
  if (!isPlain) {
    return part("report", "The report", make("p", {}, "The report is not shown: it is too large for this page, or it tries to do more than show."));
  }
  const frame = make("iframe", { title: "The report of this package", loading: "lazy", src: addressOf(blobOf(file, entry, "text/html;charset=utf-8")) });
  frame.setAttribute("sandbox", "");
  const note = `${warning(result)}The report's words come from the package. They were not compared with the journal here.`;
  return part("report", "The report", make("p", { class: warning(result) ? "notice" : "quiet" }, note), frame);
}

function mediaParts(result, file) {
  const ofFolder = (folders) => result.files.filter(({ path }) => folders.some((folder) => path.startsWith(folder)));
  const pictures = ofFolder(["data/photos/", "data/markup/"]).filter(({ path }) => PICTURE_TYPES[ending(path)]);
  const notes = ofFolder(["data/voice/"]);
  const parts = [];
  if (pictures.length) parts.push(picturesPart(pictures, file, warning(result)));
  if (notes.length) parts.push(notesPart(notes, file));
  return parts;
}

function ending(path) {
  return path.slice(path.lastIndexOf(".") + 1);
}

/** One picture at a time: a package may hold hundreds of large ones. */
function picturesPart(pictures, file, warned) {
  let at = 0;
  const image = make("img", { decoding: "async" });
  const caption = make("figcaption", { "aria-live": "polite" });
  const choice = make("select", { id: "picture" }, ...pictures.map(({ path }, index) => make("option", { value: index }, fileName(path))));
  const back = make("button", { type: "button" }, "Earlier picture");
  const on = make("button", { type: "button" }, "Next picture");
  const show = (index) => {
    at = index;
    const entry = pictures[at];
    const drawn = entry.path.startsWith("data/markup/");
    if (image.src) URL.revokeObjectURL(image.src);
    image.src = addressOf(blobOf(file, entry, PICTURE_TYPES[ending(entry.path)]));
    image.alt = `${drawn ? "Drawing on a copy of a photo" : "Photo"}, step ${entry.step ?? "none"}, ${entry.path}`;
    caption.replaceChildren(`${warned}Picture ${at + 1} of ${pictures.length}, `,
      entry.step ? "step " : "no step", entry.step ? quoted(entry.step) : "", ". File ", quoted(entry.path), ": ", mark(entry.outcome));
    choice.value = String(at);
    back.disabled = at === 0;
    on.disabled = at === pictures.length - 1;
  };
  image.addEventListener("error", () => caption.append(" This browser cannot show the picture."));
  back.addEventListener("click", () => show(at - 1));
  on.addEventListener("click", () => show(at + 1));
  choice.addEventListener("change", () => show(Number(choice.value)));
  show(0);
  return part("pictures", "Pictures",
    make("p", { class: "actions" }, make("label", { for: "picture" }, "Picture"), choice, back, on),
    make("figure", {}, image, caption));
}

function fileName(path) {
  return path.slice("data/".length);
}

function notesPart(notes, file) {
  return part("notes", "Spoken notes", ...notes.map((entry) => {
    const player = make("audio", { controls: true, preload: "none", src: addressOf(blobOf(file, entry, "audio/flac")) });
    player.setAttribute("aria-label", `Spoken note, step ${entry.step ?? "none"}`);
    return make("figure", {},
      make("figcaption", {}, entry.step ? "Step " : "No step", entry.step ? quoted(entry.step) : "", ". File ", quoted(entry.path), ": ", mark(entry.outcome)),
      player);
  }));
}
