// @ts-check
/**
 * Dates and times as people read them. Twin of `app/domain/dates.py`.
 */

/** @typedef {(key: string) => string} Word gives a month's short name by its key, "month.9" */

/**
 * A date written YYYY-MM-DD as "30 Sep 2026"; anything else as it is.
 *
 * @param {string} day
 * @param {Word} word
 */
export function dateWords(day, word) {
  if (!/^\d+-\d+-\d+$/.test(day)) return day;
  const [year, month, date] = day.split("-").map(BigInt);
  return month >= 1n && month <= 12n ? `${date} ${word(`month.${month}`)} ${year}` : day;
}

/**
 * An instant as the shop reads it: the time of day, with the date when not today's, the year when not this.
 *
 * @param {number} atMs
 * @param {number} nowMs
 * @param {string} zone the shop's, like "Europe/Helsinki"
 * @param {Word} word
 */
export function timeWords(atMs, nowMs, zone, word) {
  const [here, today] = [clockAt(atMs, zone), clockAt(nowMs, zone)];
  const time = `${here.hour}:${here.minute}`;
  const day = `${here.day} ${word(`month.${here.month}`)}`;
  if (here.year !== today.year) return `${day} ${here.year}, ${time}`;
  return here.month === today.month && here.day === today.day ? time : `${day}, ${time}`;
}

/**
 * @param {number} atMs
 * @param {string} zone
 */
function clockAt(atMs, zone) {
  const parts = formatOf(zone).formatToParts(atMs);
  /** @param {string} type */
  const of = (type) => parts.find((one) => one.type === type)?.value ?? "";
  return {
    year: Number(of("year")),
    month: Number(of("month")),
    day: Number(of("day")),
    hour: of("hour"),
    minute: of("minute"),
  };
}

/** @type {Map<string, Intl.DateTimeFormat>} Making one takes longer than a hundred uses of it. */
const formats = new Map();

/** @param {string} zone */
function formatOf(zone) {
  let format = formats.get(zone);
  if (format === undefined) {
    format = made(zone);
    formats.set(zone, format);
  }
  return format;
}

/**
 * A browser older than the zone's name does not know it; the tablet is in the workshop, so its own zone stands in.
 *
 * @param {string|undefined} timeZone
 * @returns {Intl.DateTimeFormat}
 */
function made(timeZone) {
  try {
    return new Intl.DateTimeFormat("en-u-ca-gregory-nu-latn", {
      timeZone,
      hourCycle: "h23",
      year: "numeric",
      month: "numeric",
      day: "numeric",
      hour: "2-digit",
      minute: "2-digit",
    });
  } catch (error) {
    if (!(error instanceof RangeError) || timeZone === undefined) throw error;
    return made(undefined);
  }
}
