"""Every error a user can meet, in one place.

Each says what happened, where (which file, key, step or device) and what to do
next, so that a command can print it as one sentence and exit with the status
of its class. Programming mistakes are not in this family and keep their
traceback.
"""

import copyreg
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from typing import Any, Self

from evidence_app.sentence import NOTHING, Sentence, joined, sentence, verbatim


class EvidenceError(Exception):
    """Something the user can act on.

    ``what`` is a plain sentence without a final full stop, ``where`` names the
    file, key, step, event or device, ``remedy`` says what to do next. A plain text as
    ``what`` or ``remedy`` could not be said in another language: it raises TypeError.
    """

    exit_status = 2

    def __init__(self, what: Sentence, *, where: Sentence | str = "", remedy: Sentence = NOTHING) -> None:
        if not (isinstance(what, Sentence) and isinstance(remedy, Sentence)):
            raise TypeError(f"an error is worded in sentences, not in {what!r} and {remedy!r}")
        self.what = what
        self.where = where
        self.remedy = remedy
        super().__init__(self.sentence())

    @classmethod
    def worded(cls, words: dict[str, Sentence], where: Sentence | str = "", /, **values: object) -> Self:
        """The error that a table of ``sentences_beside`` words: its ``what`` and ``remedy``, each
        with those of ``values`` that it has places for."""
        return cls(words["what"].filled(values), where=where, remedy=words["remedy"].filled(values))

    @classmethod
    def none_of(cls, known: Iterable[str], what: Sentence, where: Sentence | str = "") -> Self:
        """Of a word that is none of those ``known``."""
        remedy = sentence("use one of: {names}", names=", ".join(known))
        return cls(what, where=where, remedy=remedy)

    def __reduce__(self) -> tuple[Any, ...]:
        """For another process: as it stands, whatever its class was made from."""
        return copyreg.__newobj__, (type(self), *self.args), self.__dict__  # type: ignore[attr-defined]

    @property
    def told(self) -> Sentence:
        """``where: what. Remedy`` as a sentence to be said in any language."""
        told = joined(": ", (verbatim(self.where), self.what)) if self.where else self.what
        return joined(". ", (told, self.remedy)) if self.remedy else told

    def sentence(self, beside: str | None = None, say: Callable[[Any], str] = str) -> str:
        """The error as one line: ``where: what. remedy.``

        The place is left out where it is ``beside``, which already stands before it.
        ``say`` gives a sentence's text in the language wanted, English without it.
        """
        what, where = say(self.what), say(verbatim(self.where))
        head = (f"{where}: {what}" if where and where != beside else what).rstrip(".")
        remedy = say(self.remedy).rstrip(".")
        tail = f" {remedy[0].upper()}{remedy[1:]}." if remedy else ""
        return f"{head}{'' if head.endswith(('?', '!')) else '.'}{tail}"


@contextmanager
def turned(
    caught: type[Exception] | tuple[type[Exception], ...],
    into: type[EvidenceError],
    what: Sentence,
    where: Sentence | str = "",
    remedy: Sentence = NOTHING,
) -> Iterator[None]:
    """Errors ``caught`` in the block come out as ``into``. Places named problem or error in the
    template ``what`` are filled with the error, reason or strerror with the system's word for it."""
    try:
        yield
    except caught as problem:
        reason = getattr(problem, "strerror", None) or str(problem)
        told = {"problem": problem, "error": problem, "reason": reason, "strerror": reason}
        places = [(name, value) for name, value in told.items() if f"{{{name}}}" in what.template]
        raise into(
            Sentence(what.template, (*what.values, *places)), where=where, remedy=remedy
        ) from problem


def not_installed(error: ModuleNotFoundError) -> EvidenceError:
    """A clerk's computer has the desk's libraries only. One of the app's own modules that is
    missing is a mistake and is raised again."""
    library = (error.name or "").split(".")[0]
    if library == "evidence_app":
        raise error
    extra = "cluster" if library in ("botocore", "distributed", "fsspec", "pyarrow", "s3fs") else "all"
    return EvidenceError(
        sentence("{library}, which this needs, is not installed", library=error.name),
        remedy=sentence('run: pip install "evidence-app[{extra}]"', extra=extra),
    )


class StepListError(EvidenceError):
    """A step list file cannot be used; ``problems`` holds every defect found."""

    def __init__(self, problems: list[EvidenceError]) -> None:
        self.problems = problems
        first = problems[0]
        super().__init__(first.what, where=first.where, remedy=first.remedy)

    def sentence(self, beside: str | None = None, say: Callable[[Any], str] = str) -> str:
        return "\n".join(EvidenceError.sentence(problem, beside, say) for problem in self.problems)


class Refused(EvidenceError):
    """The job does not accept this command now; nothing was recorded."""


class PhotoError(EvidenceError):
    """The bytes offered as a photo cannot be taken as one."""


class DeviceError(EvidenceError):
    """A camera or microphone cannot be used, or was lost."""


class VoiceError(EvidenceError):
    """Spoken words cannot be recognised, or nothing can be read aloud, on this machine."""


class RecordError(EvidenceError):
    """The job's journal or originals cannot be read or written."""


class JobInUse(RecordError):
    """Another process has this job open."""


class StorageFull(RecordError):
    """The disk is full; what was recorded before is safe."""


class PackageError(EvidenceError):
    """A package cannot be read, or cannot be sealed."""


class SigningKeyError(EvidenceError):
    """A signing key, PIN or key list cannot be used."""


class RegisterError(EvidenceError):
    """The desk's register cannot be read or written, or refuses an entry."""
