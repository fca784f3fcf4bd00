// Is each original of the kind, size and length that its event says? Judged by the files' own
// structure: JPEG (ITU-T T.81 annex B), PNG (ISO/IEC 15948), FLAC (RFC 9639).

const LARGEST_ORIGINAL = 256 * 2 ** 20;

// A photo's beginning and end tell it nearly always, so that few are read whole once more.
const ENDS = 2 ** 18;
const MOST_SECONDS_APART = 0.02;
const PNG_START = [0x89, 0x50, 0x4e, 0x47, 0x0d, 0x0a, 0x1a, 0x0a];
const PNG_END = [0x49, 0x45, 0x4e, 0x44, 0xae, 0x42, 0x60, 0x82];
const FRAMES_READ = new Set([0xc0, 0xc1, 0xc2]);
const FRAMES = new Set([...Array(16).keys()].map((n) => 0xc0 + n).filter((marker) => ![0xc4, 0xc8, 0xcc].includes(marker)));

/** A watcher of the journal; `reasons` are the notes recorded after a stop. */
class Media {
  constructor() {
    this.events = [];
    this.reasons = [];
    this.stopped = false;
  }

  see({ kind, body, sequence }) {
    if (kind === "repair-stopped") this.stopped = true;
    const ref = { "photo-taken": body.photo, "note-recorded": body.audio, measured: body.markup }[kind];
    if (!isObject(ref)) return;
    this.events.push({ kind, sequence, sha256: ref.sha256, width: body.width, height: body.height, seconds: body.seconds, rate: body.rate });
    if (kind === "note-recorded" && this.stopped) this.reasons.push(ref.sha256);
  }

  async judge(pack, originals) {
    const problems = [];
    for (const event of this.events) {
      const path = originals.pathOf(event.sha256);
      if (!path || !pack.has(path) || pack.size(path) > LARGEST_ORIGINAL) continue;
      const problem = await MEDIA_PROBLEM[event.kind](pack.blob(path), event);
      if (problem && problems.length < MOST_ITEMS) problems.push(`${path}: ${problem}`);
    }
    return problems;
  }
}

const MEDIA_PROBLEM = {
  async "photo-taken"(blob, { width, height, sequence }) {
    const size = await jpegSize(blob);
    if (!size) return "is no whole JPEG photo";
    return size.width === width && size.height === height
      ? null : `has ${size.width} x ${size.height} pixels, event ${sequence} says ${width} x ${height}`;
  },

  async measured(blob) {
    const bytes = await bytesOf(blob);
    const whole = PNG_START.every((byte, at) => bytes[at] === byte) && PNG_END.every((byte, at) => bytes.at(at - 8) === byte);
    return whole && latin1(bytes.subarray(12, 16)) === "IHDR" ? null : "is no whole PNG drawing";
  },

  async "note-recorded"(blob, { seconds, rate, sequence }) {
    const bytes = await bytesOf(blob.slice(0, ENDS));
    if (!bytes.length && seconds === 0) return null;
    if (latin1(bytes.subarray(0, 4)) !== "fLaC" || bytes.length < 42 || (bytes[4] & 0x7f) !== 0) return "is no whole FLAC recording";
    const itsRate = (bytes[18] << 12) | (bytes[19] << 4) | (bytes[20] >> 4);
    const samples = (bytes[21] & 0x0f) * 2 ** 32 + new DataView(bytes.buffer, bytes.byteOffset).getUint32(22);
    if (itsRate !== rate) return `is at ${itsRate} samples a second, not ${rate}`;
    const lasts = samples / itsRate;
    return Math.abs(lasts - seconds) <= MOST_SECONDS_APART ? null : `lasts ${lasts.toFixed(2)} s, event ${sequence} says ${seconds} s`;
  },
};

async function bytesOf(blob) {
  return new Uint8Array(await blob.arrayBuffer());
}

/** Pixels as the picture is shown, Exif rotation applied; null for what is no whole JPEG. */
async function jpegSize(blob) {
  const start = jpegStart(await bytesOf(blob.slice(0, ENDS))) ?? jpegStart(await bytesOf(blob));
  if (!start) return null;
  const { size, scanAt } = start;
  const lastPiece = blob.slice(Math.max(scanAt, blob.size - ENDS));
  return hasEnd(await bytesOf(lastPiece)) || hasEnd(await bytesOf(blob.slice(scanAt))) ? size : null;
}

/** The size, and where the first scan begins; null when these bytes do not tell both. */
function jpegStart(bytes) {
  const view = new DataView(bytes.buffer, bytes.byteOffset, bytes.length);
  if (bytes.length < 4 || view.getUint16(0) !== 0xffd8) return null;
  let size = null;
  for (let at = 2; at + 4 <= bytes.length; ) {
    if (bytes[at] !== 0xff) return null;
    const marker = bytes[at + 1];
    if (marker === 0xff) {
      at += 1;
      continue;
    }
    if (marker === 0xda) return size && { size, scanAt: at };
    if (marker === 0xd9) return null;
    if (FRAMES.has(marker)) {
      if (!FRAMES_READ.has(marker) || at + 9 > bytes.length) return null;
      const turned = (exifOrientation(bytes) ?? 1) >= 5;
      const [height, width] = [view.getUint16(at + 5), view.getUint16(at + 7)];
      size = turned ? { width: height, height: width } : { width, height };
    }
    at += marker === 0x01 || (marker >= 0xd0 && marker <= 0xd7) ? 2 : 2 + view.getUint16(at + 2);
  }
  return null;
}

function hasEnd(bytes) {
  for (let at = bytes.lastIndexOf(0xd9); at > 0; at = bytes.lastIndexOf(0xd9, at - 1)) if (bytes[at - 1] === 0xff) return true;
  return false;
}

function exifOrientation(bytes) {
  return fromExif(bytes.subarray(0, EXIF_HEAD), (tiff) => {
    const view = new DataView(tiff.buffer, tiff.byteOffset, tiff.length);
    const little = view.getUint16(0) === 0x4949;
    const found = readDirectoryOfTags(tiff, view, view.getUint32(4, little), little).get(TAG_ORIENTATION);
    const value = found && (little ? found.value & 0xffff : found.value >>> 16);
    return value >= 1 && value <= 8 ? value : null;
  });
}
