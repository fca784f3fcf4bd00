"""An error on a screen: what is wrong and what to do, in the language in use."""

from pathlib import PureWindowsPath

from evidence_app.errors import EvidenceError, StepListError
from evidence_app.language import say
from evidence_app.sentence import Sentence


def problem_words(error: EvidenceError) -> str:
    """What is wrong and what to do; of a file its name, since a technician has no use for a path."""
    if isinstance(error, StepListError):
        return error.sentence(say=say)
    parts = [_whole(error.what), _whole(error.remedy)]
    where = str(error.where)
    if "/" in where or "\\" in where:
        parts.append(f"({PureWindowsPath(where).name})")
    return " ".join(part for part in parts if part)


def _whole(part: Sentence | str) -> str:
    text = say(part).strip().rstrip(".") if part else ""
    return f"{text[:1].upper()}{text[1:]}." if text else ""
