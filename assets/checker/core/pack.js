// The files of one package, read out of the ZIP file where they stand.

class Pack {
  constructor(file, { top, files }) {
    this.file = file;
    this.top = top;
    this.files = files;
  }

  names() {
    return [...this.files.keys()];
  }

  has(name) {
    return this.files.has(name);
  }

  size(name) {
    return this.files.get(name).size;
  }

  /** The file as a Blob that reads from the ZIP file; nothing is copied. */
  blob(name, type = "") {
    const { at, size } = this.files.get(name);
    return this.file.slice(at, at + size, type);
  }

  /** The first `most` bytes; null when the file is missing. */
  async head(name, most) {
    if (!this.has(name)) return null;
    return new Uint8Array(await this.blob(name).slice(0, most).arrayBuffer());
  }

  /** All bytes; null when the file is missing or larger than `most`. */
  async bytes(name, most = LARGEST_TAG) {
    if (!this.has(name) || this.size(name) > most) return null;
    return new Uint8Array(await this.blob(name).arrayBuffer());
  }

  /** The text; null when the file is missing, too large or not UTF-8. */
  async text(name, most = LARGEST_TAG) {
    const bytes = await this.bytes(name, most);
    return bytes && utf8(bytes);
  }
}
