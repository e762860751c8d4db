// @ts-check
/**
 * The whole-number sums of a torque sign-off. Twin of `app/domain/torque.py`.
 *
 * The products pass 2^53, so the sums are done in BigInt.
 */

/** @typedef {import("./packet.js").Stage} Stage */

const MILLION = 1_000_000n;

/**
 * Torque at the fastener when the wrench reads this much with an extension on it. Rounds half up to a whole mN·m.
 *
 * Source: T = setting·(L + E·cos θ)/L, statics; printed for θ = 0 and 90° in a torque wrench maker's manual
 *         (reference check K-21).
 *
 * @param {number} readingMnm
 * @param {number} wrenchUm grip to drive
 * @param {number} extensionUm drive to fastener
 * @param {number} cosinePpm of the extension's angle, in millionths
 */
export function atFastener(readingMnm, wrenchUm, extensionUm, cosinePpm) {
  const denominator = BigInt(wrenchUm) * MILLION;
  const numerator = BigInt(readingMnm) * (denominator + BigInt(extensionUm) * BigInt(cosinePpm));
  return Number(floorDiv(2n * numerator + denominator, 2n * denominator));
}

/**
 * What to set on the wrench so that the fastener gets this torque; `null` when the extension undoes the wrench, or so
 * nearly that no entry can hold the setting. Source and rounding as `atFastener`.
 *
 * @param {number} torqueMnm
 * @param {number} wrenchUm
 * @param {number} extensionUm
 * @param {number} cosinePpm
 */
export function settingFor(torqueMnm, wrenchUm, extensionUm, cosinePpm) {
  const arm = BigInt(wrenchUm) * MILLION + BigInt(extensionUm) * BigInt(cosinePpm);
  if (arm <= 0n) return null;
  const setting = Number(floorDiv(2n * BigInt(torqueMnm) * BigInt(wrenchUm) * MILLION + arm, 2n * arm));
  return Number.isSafeInteger(setting) ? setting : null;
}

/**
 * Whether a value lies in the stage's window (mdeg for a turn, else mN·m). One without ends fits nothing; and nothing,
 * or less than nothing, never fits.
 *
 * @param {Stage} stage
 * @param {number} value
 */
export function stageValueFits(stage, value) {
  const [low, high] = stage.target_mdeg !== null ? [stage.low_mdeg, stage.high_mdeg] : [stage.low_mnm, stage.high_mnm];
  return low !== null && high !== null && value > 0 && low <= value && value <= high;
}

/**
 * Division rounded down, as Python's `//`; BigInt's own goes towards zero.
 *
 * @param {bigint} one
 * @param {bigint} by not 0
 */
export function floorDiv(one, by) {
  const quotient = one / by;
  return one % by !== 0n && one < 0n !== by < 0n ? quotient - 1n : quotient;
}
