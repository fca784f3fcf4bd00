// SHA-256 (FIPS 180-4) that takes a file in pieces. WebCrypto's own digest wants
// all bytes at once, which a large file must not be asked for.

// FIPS 180-4 section 4.2.2 and 5.3.3: fractional parts of the cube and square roots of primes.
const SHA_K = new Int32Array(64);
const SHA_START = new Int32Array(8);
fillShaConstants();

const SHA_W = new Int32Array(64);

class Sha256 {
  constructor() {
    this.state = SHA_START.slice();
    this.rest = new Uint8Array(64);
    this.held = 0;
    this.total = 0;
  }

  update(bytes) {
    let at = 0;
    this.total += bytes.length;
    if (this.held) {
      at = Math.min(64 - this.held, bytes.length);
      this.rest.set(bytes.subarray(0, at), this.held);
      this.held += at;
      if (this.held < 64) return this;
      shaBlocks(this.state, this.rest, 0, 64);
      this.held = 0;
    }
    const end = at + ((bytes.length - at) & ~63);
    shaBlocks(this.state, bytes, at, end);
    this.held = bytes.length - end;
    this.rest.set(bytes.subarray(end), 0);
    return this;
  }

  /** The digest; the object is used up by it. */
  digest() {
    const padding = new Uint8Array(this.held < 56 ? 64 - this.held : 128 - this.held);
    padding[0] = 0x80;
    const view = new DataView(padding.buffer);
    view.setUint32(padding.length - 8, Math.floor(this.total / 0x20000000));
    view.setUint32(padding.length - 4, (this.total * 8) >>> 0);
    this.update(padding);
    const digest = new Uint8Array(32);
    const out = new DataView(digest.buffer);
    this.state.forEach((word, index) => out.setInt32(index * 4, word));
    return digest;
  }
}

/** SHA-256 of bytes that are at hand, as 64 hex digits. */
function sha256(bytes) {
  return toHex(new Sha256().update(bytes).digest());
}

// Whole blocks of 64 bytes from `at` to `end` (FIPS 180-4 section 6.2.2).
function shaBlocks(state, bytes, at, end) {
  const w = SHA_W;
  const k = SHA_K;
  // By index, not taken apart as a list: then the engine knows them as 32-bit numbers, three times as fast.
  let s0 = state[0], s1 = state[1], s2 = state[2], s3 = state[3];
  let s4 = state[4], s5 = state[5], s6 = state[6], s7 = state[7];
  for (; at < end; at += 64) {
    for (let i = 0, from = at; i < 16; i++, from += 4) {
      w[i] = (bytes[from] << 24) | (bytes[from + 1] << 16) | (bytes[from + 2] << 8) | bytes[from + 3];
    }
    for (let i = 16; i < 64; i++) {
      const x = w[i - 15];
      const y = w[i - 2];
      const small0 = ((x >>> 7) | (x << 25)) ^ ((x >>> 18) | (x << 14)) ^ (x >>> 3);
      const small1 = ((y >>> 17) | (y << 15)) ^ ((y >>> 19) | (y << 13)) ^ (y >>> 10);
      w[i] = (w[i - 16] + small0 + w[i - 7] + small1) | 0;
    }
    let a = s0, b = s1, c = s2, d = s3, e = s4, f = s5, g = s6, h = s7;
    for (let i = 0; i < 64; i++) {
      const big1 = ((e >>> 6) | (e << 26)) ^ ((e >>> 11) | (e << 21)) ^ ((e >>> 25) | (e << 7));
      const t1 = (h + big1 + ((e & f) ^ (~e & g)) + k[i] + w[i]) | 0;
      const big0 = ((a >>> 2) | (a << 30)) ^ ((a >>> 13) | (a << 19)) ^ ((a >>> 22) | (a << 10));
      const t2 = (big0 + ((a & b) ^ (a & c) ^ (b & c))) | 0;
      h = g; g = f; f = e; e = (d + t1) | 0;
      d = c; c = b; b = a; a = (t1 + t2) | 0;
    }
    s0 = (s0 + a) | 0; s1 = (s1 + b) | 0; s2 = (s2 + c) | 0; s3 = (s3 + d) | 0;
    s4 = (s4 + e) | 0; s5 = (s5 + f) | 0; s6 = (s6 + g) | 0; s7 = (s7 + h) | 0;
  }
  state.set([s0, s1, s2, s3, s4, s5, s6, s7]);
}

// Exact by integer roots: floating point is not asked for the 32nd bit.
function fillShaConstants() {
  const primes = [];
  for (let n = 2; primes.length < 64; n++) {
    if (primes.every((prime) => n % prime)) primes.push(n);
  }
  primes.forEach((prime, index) => {
    SHA_K[index] = Number(BigInt.asIntN(32, integerRoot(BigInt(prime) << 96n, 3n)));
    if (index < 8) SHA_START[index] = Number(BigInt.asIntN(32, integerRoot(BigInt(prime) << 64n, 2n)));
  });
}

function integerRoot(value, degree) {
  let low = 0n;
  let high = 1n << 40n;
  while (high - low > 1n) {
    const middle = (low + high) >> 1n;
    if (middle ** degree <= value) low = middle;
    else high = middle;
  }
  return low;
}
