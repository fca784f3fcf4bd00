"""An error that a worker process raises is the same error where it arrives."""

from __future__ import annotations

from concurrent.futures import ProcessPoolExecutor

import pytest

from evidence_app.errors import EvidenceError, PackageError, StepListError
from evidence_app.photo.refusal import CannotMeasure
from evidence_app.sentence import sentence

_ONE = PackageError(
    sentence("{n} is not a package", n="a.zip"), where="a.zip", remedy=sentence("ask again")
)
_RAISED = (
    _ONE,
    StepListError([_ONE, EvidenceError(sentence("no title"))]),
    CannotMeasure("card", "no card"),
)


def _raise(number: int) -> None:
    raise _RAISED[number]


@pytest.mark.parametrize("number", range(len(_RAISED)), ids=lambda n: type(_RAISED[n]).__name__)
def test_an_error_of_a_worker_process_keeps_its_kind_and_words(number: int) -> None:
    with ProcessPoolExecutor(1) as workers, pytest.raises(type(_RAISED[number])) as raised:
        workers.submit(_raise, number).result()
    assert raised.value.sentence() == _RAISED[number].sentence()
    assert str(raised.value) == str(_RAISED[number])
