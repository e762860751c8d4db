// @ts-check
/**
 * SHA-256 in plain script, and text as UTF-8. `crypto.subtle` gives its answer only later, and the rules need it at once:
 * a packet's hash is part of the sheet's next state.
 *
 * Source: NIST FIPS 180-4 (August 2015), sections 4.1.2, 4.2.2, 5.1.1, 5.3.3 and 6.2; checked in tests against the
 * standard's own examples and Python's hashlib.
 */

// The first 32 bits of the fractional parts of the cube roots of the first 64 primes (FIPS 180-4, 4.2.2).
const ROUND = new Uint32Array([
  0x428a2f98, 0x71374491, 0xb5c0fbcf, 0xe9b5dba5, 0x3956c25b, 0x59f111f1, 0x923f82a4, 0xab1c5ed5,
  0xd807aa98, 0x12835b01, 0x243185be, 0x550c7dc3, 0x72be5d74, 0x80deb1fe, 0x9bdc06a7, 0xc19bf174,
  0xe49b69c1, 0xefbe4786, 0x0fc19dc6, 0x240ca1cc, 0x2de92c6f, 0x4a7484aa, 0x5cb0a9dc, 0x76f988da,
  0x983e5152, 0xa831c66d, 0xb00327c8, 0xbf597fc7, 0xc6e00bf3, 0xd5a79147, 0x06ca6351, 0x14292967,
  0x27b70a85, 0x2e1b2138, 0x4d2c6dfc, 0x53380d13, 0x650a7354, 0x766a0abb, 0x81c2c92e, 0x92722c85,
  0xa2bfe8a1, 0xa81a664b, 0xc24b8b70, 0xc76c51a3, 0xd192e819, 0xd6990624, 0xf40e3585, 0x106aa070,
  0x19a4c116, 0x1e376c08, 0x2748774c, 0x34b0bcb5, 0x391c0cb3, 0x4ed8aa4a, 0x5b9cca4f, 0x682e6ff3,
  0x748f82ee, 0x78a5636f, 0x84c87814, 0x8cc70208, 0x90befffa, 0xa4506ceb, 0xbef9a3f7, 0xc67178f2,
]);
// The first 32 bits of the fractional parts of the square roots of the first eight primes (FIPS 180-4, 5.3.3).
const START = [0x6a09e667, 0xbb67ae85, 0x3c6ef372, 0xa54ff53a, 0x510e527f, 0x9b05688c, 0x1f83d9ab, 0x5be0cd19];

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
