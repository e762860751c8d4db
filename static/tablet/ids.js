// @ts-check
/**
 * An id made where the thing was made, which sorts by when: UUID version 7 (RFC 9562, section 5.7).
 *
 * @param {number} atMs milliseconds since 1970
 * @param {Uint8Array} random ten random bytes
 */
export function uuid7(atMs, random) {
  const bytes = [...random];
  bytes[0] = 0x70 | (bytes[0] & 0x0f);
  bytes[2] = 0x80 | (bytes[2] & 0x3f);
  const hex = atMs.toString(16).padStart(12, "0") + bytes.map((one) => one.toString(16).padStart(2, "0")).join("");
  return [hex.slice(0, 8), hex.slice(8, 12), hex.slice(12, 16), hex.slice(16, 20), hex.slice(20)].join("-");
}
