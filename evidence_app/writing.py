"""Numbers and durations as people write them, the same in every language."""

from decimal import Decimal


def number(value: float | str) -> str:
    """A number as people write it, shortest form; a full stop stays a full stop."""
    return f"{Decimal(str(value)).normalize():f}"


def duration(seconds: float) -> str:
    """ "1 min 30 s", "45 s", "2 h 5 min": units of the SI and those accepted with it."""
    whole = round(seconds)
    hours, rest = divmod(whole, 3600)
    minutes, left = divmod(rest, 60)
    parts = ((hours, "h"), (minutes, "min"), (left, "s"))
    return " ".join(f"{n} {unit}" for n, unit in parts if n) or "0 s"


def bare(sentence: str) -> str:
    """A sentence without the full stop at its end, to stand inside another."""
    return " ".join(sentence.split()).rstrip(".")
