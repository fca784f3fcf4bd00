// RFC 3339 times.

const RFC3339 =
  /^(\d{4})-(\d\d)-(\d\d)T(\d\d):(\d\d):(\d\d)(?:\.(\d{1,9}))?(?:Z|([+-])(\d\d):(\d\d))$/;

/** Milliseconds since 1970 in UTC, or null when the text is not a time that exists. */
function momentOf(text) {
  const found = typeof text === "string" ? RFC3339.exec(text) : null;
  if (!found) return null;
  const [year, month, day, hour, minute, second] = found.slice(1, 7).map(Number);
  const [offsetHour, offsetMinute] = [Number(found[9] || 0), Number(found[10] || 0)];
  const leap = second === 60;
  const possible =
    year >= 1 && month >= 1 && month <= 12 && day >= 1 && day <= daysIn(year, month) &&
    hour <= 23 && minute <= 59 && second <= 60 && offsetHour <= 23 && offsetMinute <= 59;
  if (!possible) return null;
  const milliseconds = Number((found[7] || "").padEnd(3, "0").slice(0, 3));
  const start = new Date(0);
  start.setUTCFullYear(year, month - 1, day);
  start.setUTCHours(hour, minute, second, milliseconds);
  const offset = (offsetHour * 60 + offsetMinute) * 60000 * (found[8] === "-" ? -1 : 1);
  const moment = start.getTime() - offset;
  return leap && !endsMonth(moment - milliseconds) ? null : moment;
}

function daysIn(year, month) {
  const leapYear = (year % 4 === 0 && year % 100 !== 0) || year % 400 === 0;
  return [31, leapYear ? 29 : 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31][month - 1];
}

// RFC 3339 section 5.7: a leap second ends the last minute of a month, in UTC. As the
// moment behind it is the next day's first, that is what it has to be.
function endsMonth(moment) {
  const date = new Date(moment);
  return date.getUTCDate() === 1 && date.getUTCHours() === 0 && date.getUTCMinutes() === 0;
}

/** A span for people: seconds to one decimal, or hours and days. */
function spanWords(seconds) {
  const size = Math.abs(seconds);
  if (size < 120) return `${size.toFixed(1)} s`;
  if (size < 7200) return `${Math.round(size / 60)} min`;
  if (size < 172800) return `${(size / 3600).toFixed(1)} h`;
  return `${(size / 86400).toFixed(1)} days`;
}
