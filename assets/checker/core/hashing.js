// The SHA-256 of a file inside the package, without holding a large one in memory.

const PIECE = 2 ** 20;

// Up to here WebCrypto gets the whole file. It is the faster one, but wants all bytes at once.
const WHOLE = 16 * 2 ** 20;

const HAS_WEBCRYPTO = typeof crypto === "object" && Boolean(crypto.subtle);

/** SHA-256 of a Blob as 64 hex digits. `advance` is told of the bytes just read. */
async function hashBlob(blob, advance = () => {}) {
  if (HAS_WEBCRYPTO && blob.size <= WHOLE) {
    const bytes = await blob.arrayBuffer();
    const digest = await crypto.subtle.digest("SHA-256", bytes);
    advance(blob.size);
    return toHex(new Uint8Array(digest));
  }
  return hashInPieces(blob, advance);
}

/** The same in pieces; the next piece is read while one is hashed. */
async function hashInPieces(blob, advance = () => {}, piece = PIECE) {
  const hash = new Sha256();
  let next = blob.slice(0, piece).arrayBuffer();
  for (let at = 0; at < blob.size; at += piece) {
    const bytes = new Uint8Array(await next);
    next = blob.slice(at + piece, at + 2 * piece).arrayBuffer();
    hash.update(bytes);
    advance(bytes.length);
  }
  await next;
  return toHex(hash.digest());
}
