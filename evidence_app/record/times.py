"""RFC 3339 date-times, read strictly and written one way.

A small reader of our own: ``datetime.fromisoformat`` takes many ISO 8601
spellings that RFC 3339 does not have, and refuses the leap second that it has.
"""

import re
from datetime import UTC, datetime, timedelta, timezone
from functools import lru_cache

# RFC 3339 section 5.6, limited to upper-case T and Z as its note on case allows.
_DATE_TIME = re.compile(
    r"(\d{4})-(\d{2})-(\d{2})T(\d{2}):(\d{2}):(\d{2})(?:\.(\d{1,9}))?(?:Z|([+-])(\d{2}):(\d{2}))", re.ASCII
)

# RFC 3339 section 4.3: the time in UTC is known, the local offset is not.
OFFSET_UNKNOWN = timezone(timedelta(0), "-00:00")


# A journal's times are asked for again by every check; the same text gives the same moment.
@lru_cache(maxsize=4096)
def parse(text: str) -> datetime:
    """The moment ``text`` names, with its offset, to the microsecond (finer digits are dropped).

    A leap second (``:60``) is taken as the first moment of the next minute, as
    POSIX time counts it, and only where RFC 3339 section 5.7 lets one stand: in
    the last minute, in UTC, of a month. ``-00:00`` gives :data:`OFFSET_UNKNOWN`.
    Raises ValueError saying what is wrong.
    """
    found = _DATE_TIME.fullmatch(text)
    if not found:
        raise ValueError(f"{text!r} is not an RFC 3339 time like 2026-03-02T08:15:30.123+01:00")
    year, month, day, hour, minute, second = (int(part) for part in found.groups()[:6])
    microsecond = int((found[7] or "").ljust(6, "0")[:6])
    leap = second == 60
    try:
        moment = datetime(
            year, month, day, hour, minute, 59 if leap else second, microsecond, _offset(found)
        )
        moment.astimezone(UTC)
        return _leap_second(moment, text) if leap else moment
    except (ValueError, OverflowError) as error:
        raise ValueError(f"{text!r} is not a time that exists: {error}") from None


def format_ms(moment: datetime) -> str:
    """``moment`` (with an offset in whole minutes) as RFC 3339 with milliseconds, cut not rounded.

    Raises ValueError for a time without offset.
    """
    if moment.tzinfo is None:
        raise ValueError("a time without its offset from UTC cannot be recorded")
    text = moment.isoformat(timespec="milliseconds")
    return text[:-6] + "-00:00" if moment.tzinfo is OFFSET_UNKNOWN else text


def _offset(found: re.Match[str]) -> timezone:
    if found[8] is None:
        return UTC
    hours, minutes = int(found[9]), int(found[10])
    if hours > 23 or minutes > 59:
        raise ValueError("the offset must be between -23:59 and +23:59")
    if found[8] == "-" and hours == minutes == 0:
        return OFFSET_UNKNOWN
    size = timedelta(hours=hours, minutes=minutes)
    return timezone(-size if found[8] == "-" else size)


def _leap_second(moment: datetime, text: str) -> datetime:
    next_minute = (moment + timedelta(seconds=1)).replace(microsecond=0)
    in_utc = next_minute.astimezone(UTC)
    if (in_utc.day, in_utc.hour, in_utc.minute) != (1, 0, 0):
        raise ValueError("a leap second can only end the last minute of a month in UTC")
    return moment + timedelta(seconds=1)
