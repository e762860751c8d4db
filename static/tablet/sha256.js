// @ts-check
/**
 * SHA-256 in plain script, and text as UTF-8. `crypto.subtle` gives its answer only later, and the rules need it at once:
 * a packet's hash is part of the sheet's next state.
 *
 * Source: NIST FIPS 180-4 (August 2015), sections 4.1.2, 4.2.2, 5.1.1, 5.3.3 and 6.2; checked in tests against the
 * standard's own examples and Python's hashlib.
 */

/**
 * The first 32 bits of the fractional part of a root: the root of n times 2 to the 32 times its degree, in whole numbers.
 *
 * @param {number} n
 * @param {bigint} degree
 */
function rootBits(n, degree) {
  const of = BigInt(n) << (32n * degree);
  let root = 0n;
  for (let bit = 1n << 40n; bit; bit >>= 1n) if ((root | bit) ** degree <= of) root |= bit;
  return Number(root & 0xffffffffn);
}

const PRIMES = [2];
for (let n = 3; PRIMES.length < 64; n += 2) if (PRIMES.every((prime) => n % prime)) PRIMES.push(n);
// Of the cube roots of the first 64 primes (FIPS 180-4, 4.2.2), and of the square roots of the first eight (5.3.3).
const ROUND = Uint32Array.from(PRIMES, (prime) => rootBits(prime, 3n));
const START = PRIMES.slice(0, 8).map((prime) => rootBits(prime, 2n));

/**
 * SHA-256 of bytes, in hexadecimal.
 *
 * @param {Uint8Array} bytes
 * @returns {string}
 */
export function sha256(bytes) {
  const padded = padding(bytes);
  const state = new Uint32Array(START);
  const words = new Uint32Array(64);
  const view = new DataView(padded.buffer);
  for (let at = 0; at < padded.length; at += 64) {
    for (let i = 0; i < 16; i += 1) words[i] = view.getUint32(at + 4 * i);
    block(state, words);
  }
  return Array.from(state, (word) => word.toString(16).padStart(8, "0")).join("");
}

/** @param {Uint8Array} bytes */
function padding(bytes) {
  const padded = new Uint8Array((((bytes.length + 8) >> 6) + 1) << 6);
  padded.set(bytes);
  padded[bytes.length] = 0x80;
  const view = new DataView(padded.buffer);
  view.setUint32(padded.length - 8, Math.floor(bytes.length / 0x20000000));
  view.setUint32(padded.length - 4, (bytes.length << 3) >>> 0);
  return padded;
}

/**
 * @param {Uint32Array} state
 * @param {Uint32Array} words the first sixteen are the block
 */
function block(state, words) {
  for (let i = 16; i < 64; i += 1) {
    const near = words[i - 2];
    const far = words[i - 15];
    const lowNear = turned(near, 17) ^ turned(near, 19) ^ (near >>> 10);
    const lowFar = turned(far, 7) ^ turned(far, 18) ^ (far >>> 3);
    words[i] = lowNear + words[i - 7] + lowFar + words[i - 16];
  }
  let [a, b, c, d, e, f, g, h] = state;
  for (let i = 0; i < 64; i += 1) {
    const highE = turned(e, 6) ^ turned(e, 11) ^ turned(e, 25);
    const first = (h + highE + ((e & f) ^ (~e & g)) + ROUND[i] + words[i]) | 0;
    const highA = turned(a, 2) ^ turned(a, 13) ^ turned(a, 22);
    const second = (highA + ((a & b) ^ (a & c) ^ (b & c))) | 0;
    [h, g, f, e, d, c, b, a] = [g, f, e, (d + first) | 0, c, b, a, (first + second) | 0];
  }
  [a, b, c, d, e, f, g, h].forEach((word, i) => {
    state[i] += word;
  });
}

/** @param {number} word @param {number} by */
const turned = (word, by) => (word >>> by) | (word << (32 - by));

/**
 * Text as UTF-8. The caller has made sure that it has no half of a surrogate pair in it.
 *
 * @param {string} text
 * @returns {Uint8Array}
 */
export function utf8(text) {
  const bytes = new Uint8Array(text.length * 3);
  let length = 0;
  for (let i = 0; i < text.length; i += 1) {
    const point = /** @type {number} */ (text.codePointAt(i));
    if (point > 0xffff) i += 1;
    if (point < 0x80) {
      bytes[length++] = point;
    } else if (point < 0x800) {
      bytes[length++] = 0xc0 | (point >> 6);
      bytes[length++] = 0x80 | (point & 0x3f);
    } else if (point < 0x10000) {
      bytes[length++] = 0xe0 | (point >> 12);
      bytes[length++] = 0x80 | ((point >> 6) & 0x3f);
      bytes[length++] = 0x80 | (point & 0x3f);
    } else {
      bytes[length++] = 0xf0 | (point >> 18);
      bytes[length++] = 0x80 | ((point >> 12) & 0x3f);
      bytes[length++] = 0x80 | ((point >> 6) & 0x3f);
      bytes[length++] = 0x80 | (point & 0x3f);
    }
  }
  return bytes.subarray(0, length);
}
