// When a camera says a photo was taken: DateTimeOriginal with sub-seconds and
// offset (Exif 2.32, CIPA DC-008, section 4.6.5 F) out of a JPEG's first bytes.

const EXIF_HEAD = 128 * 1024;
const TAG_MODEL = 0x0110;
const TAG_ORIENTATION = 0x0112;
const TAG_DETAILS = 0x8769;
const TAG_TAKEN = 0x9003;
const TAG_OFFSET = 0x9011;
const TAG_FRACTION = 0x9291;

/** RFC 3339 text, or null when the bytes do not have it. */
function exifTaken(bytes) {
  return fromExif(bytes, takenIn);
}

/** Model of the camera, or null. */
function exifCamera(bytes) {
  return fromExif(bytes, (tiff) => {
    const view = new DataView(tiff.buffer, tiff.byteOffset, tiff.length);
    const little = view.getUint16(0) === 0x4949;
    return readDirectoryOfTags(tiff, view, view.getUint32(4, little), little).get(TAG_MODEL)?.text.trim() ?? null;
  });
}

function fromExif(bytes, read) {
  try {
    const tiff = exifBlock(bytes);
    return tiff && read(tiff);
  } catch (error) {
    // A length or place in the file that leads outside of it.
    if (error instanceof RangeError) return null;
    throw error;
  }
}

function exifBlock(bytes) {
  const view = new DataView(bytes.buffer, bytes.byteOffset, bytes.length);
  if (view.getUint16(0) !== 0xffd8) return null;
  for (let at = 2; view.getUint8(at) === 0xff; at += 2 + view.getUint16(at + 2)) {
    const marker = view.getUint8(at + 1);
    if (marker === 0xda || marker === 0xd9) return null;
    const isExif = marker === 0xe1 && latin1(bytes.subarray(at + 4, at + 10)) === "Exif\0\0";
    if (isExif) return bytes.subarray(at + 10, at + 2 + view.getUint16(at + 2));
  }
  return null;
}

function takenIn(tiff) {
  const view = new DataView(tiff.buffer, tiff.byteOffset, tiff.length);
  const little = view.getUint16(0) === 0x4949;
  const first = readDirectoryOfTags(tiff, view, view.getUint32(4, little), little);
  if (!first.has(TAG_DETAILS)) return null;
  const details = readDirectoryOfTags(tiff, view, first.get(TAG_DETAILS).value, little);
  const text = (tag) => (details.has(tag) ? details.get(tag).text : "");
  const date = /^(\d{4}):(\d\d):(\d\d) (\d\d:\d\d:\d\d)$/.exec(text(TAG_TAKEN));
  const offset = text(TAG_OFFSET);
  if (!date || !/^[+-]\d\d:\d\d$/.test(offset)) return null;
  const fraction = /^\d{1,9}/.exec(text(TAG_FRACTION));
  return `${date[1]}-${date[2]}-${date[3]}T${date[4]}${fraction ? `.${fraction[0]}` : ""}${offset}`;
}

function readDirectoryOfTags(tiff, view, at, little) {
  const tags = new Map();
  const count = view.getUint16(at, little);
  for (let index = 0; index < count; index++) {
    const entry = at + 2 + 12 * index;
    const type = view.getUint16(entry + 2, little);
    const length = view.getUint32(entry + 4, little);
    const value = view.getUint32(entry + 8, little);
    let text = "";
    if (type === 2) {
      const from = length <= 4 ? entry + 8 : value;
      text = latin1(tiff.subarray(from, from + Math.min(length, 64))).replace(/[\0 ]+$/, "");
    }
    tags.set(view.getUint16(entry, little), { value, text });
  }
  return tags;
}
