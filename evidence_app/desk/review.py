"""What a supervisor needs to review a stopped repair, out of the package alone.

Everything is the record's own word with its event's number. What the record
cannot show (whether a prohibition was kept away from the bench) is said so.
"""

from collections.abc import Sequence
from pathlib import Path

from msgspec import Struct

from evidence_app.desk import asking, countersign
from evidence_app.desk.contents import Contents, photos_of, read_contents
from evidence_app.desk.countersign import AGREE, ASK, CountersignFound
from evidence_app.desk.register import Register
from evidence_app.errors import PackageError
from evidence_app.job.rules.route import step_named
from evidence_app.job.summary.model import StepRecord, StopRecord, Summary
from evidence_app.job.summary.model_step import NoteRecord, PhotoRecord
from evidence_app.package.keys.keylist import KeyList
from evidence_app.package.keys.signing_key import SigningKey
from evidence_app.package.layout import Seal
from evidence_app.package.verify.case import Asked, Case
from evidence_app.package.verify.check import verify
from evidence_app.package.verify.result import FAILS, VerifyResult
from evidence_app.package.zip.archive import open_archive
from evidence_app.record.clock import Clock, SystemClock
from evidence_app.sentence import sentences_beside
from evidence_app.steplist import walks
from evidence_app.steplist.model import StepList

_WORDS = sentences_beside(__file__)


class Side(Struct, frozen=True):
    """A photo of the stop with what it is to be held against; paths are inside the package.

    ``reference`` is the photo that the step list names as the clean one, ``earlier`` the
    photos of the same wanted view that were taken before it.
    """

    photo: PhotoRecord
    path: str | None
    reference: str | None
    earlier: tuple[str, ...]


class Review(Struct, frozen=True):
    """Everything for one review. ``step`` is the step at which the repair was stopped,
    ``findings`` and ``notes`` are of it and of after the stop."""

    package: Path
    result: VerifyResult
    contents: Contents
    seal: Seal
    seal_sha256: str
    summary: Summary
    stop: StopRecord | None
    step: StepRecord | None
    sides: tuple[Side, ...]
    notes: tuple[NoteRecord, ...]
    countersigns: tuple[CountersignFound, ...]


def open_review(package: Path, key_list: KeyList | None = None, accept_practice: bool = False) -> Review:
    """Read and check a package for review.

    Raises PackageError when it cannot be read, when its seal does not hold (there is
    nothing that a countersign could be bound to), or when its journal gives no summary.
    """
    result = verify(package, key_list, accept_practice=accept_practice)
    contents = read_contents(package)
    seal, seal_sha256 = contents.seal, contents.seal_sha256
    if result.check("seal").outcome == FAILS or seal is None or seal_sha256 is None:
        raise PackageError.worded(_WORDS["no-seal"], str(package))
    summary = contents.summary
    if summary is None:
        raise PackageError.worded(_WORDS["no-journal"], str(package))
    stop = summary.stop
    step = next((s for s in summary.steps if stop and s.id == stop.step), None)
    return Review(
        package=package,
        result=result,
        contents=contents,
        seal=seal,
        seal_sha256=seal_sha256,
        summary=summary,
        stop=stop,
        step=step,
        sides=tuple(_sides(contents, summary, stop, step, package)),
        notes=(*(step.notes if step else ()), *(stop.notes if stop else ())),
        countersigns=tuple(countersign.read_all(package, seal_sha256, key_list)),
    )


def sign_review(
    review: Review,
    decision: str,
    reason: str,
    supervisor: str,
    key: SigningKey,
    register: Register | None = None,
    wanted: Sequence[str] = (),
    keys: KeyList | None = None,
    clock: Clock | None = None,
) -> CountersignFound:
    """Countersign a package and enter that in the register when the package is in it. Who asks
    for more and names steps that are ``wanted`` gets a request for the tablet in ``asked_in``.

    Raises what ``asking.request`` does, before anything is signed; PackageError when agreeing with
    a package of which a check fails; what ``countersign.sign`` raises; RegisterError when the
    register cannot be used, before anything is signed.
    """
    if decision == AGREE and review.result.failed:
        failed = ", ".join(review.result.failed)
        raise PackageError.worded(_WORDS["failing"], str(review.package), failed=failed)
    number = None
    if register is not None:
        # Before signing, or a signature could stand that the register cannot take.
        register.check_whole()
        number = register.known(review.contents.content_sha256)
    clock, request = clock or SystemClock(), None
    if decision == ASK and wanted:
        step_list = Case(open_archive(review.package), Asked()).step_list
        again = len(review.countersigns) + 1
        request = asking.request(
            step_list, review.seal, review.seal_sha256, wanted, reason, again, supervisor, key, keys, clock
        )
    found = countersign.sign(
        review.package,
        seal=review.seal,
        seal_sha256=review.seal_sha256,
        decision=decision,
        reason=reason,
        disposition=review.stop.disposition if review.stop and decision == AGREE else None,
        supervisor=supervisor,
        at=clock.now().wall,
        key=key,
    )
    if request is not None:
        asking.write(request, asked_in(found))
    if register is not None and number is not None:
        enter(register, number, found)
    return found


def asked_in(found: CountersignFound) -> Path:
    """The folder beside the package with the request that belongs to a countersign: what it
    holds is copied to a disk for the tablet."""
    return found.path.with_name(found.path.name.replace(".countersign-", ".more-").removesuffix(".json"))


def enter(register: Register, package: int, found: CountersignFound) -> None:
    """Enter a sound countersign in the register, once."""
    content = found.content
    if content is None:
        raise ValueError(f"{found.path.name} is not sound")
    body = {
        "file": found.path.name,
        "sha256": found.sha256,
        "key_sha256": content.key_sha256,
        "number": content.number,
    }
    register.countersigned(package, content.decision, content.reason, content.supervisor, content.at, body)


def _sides(
    contents: Contents, summary: Summary, stop: StopRecord | None, step: StepRecord | None, package: Path
):
    if stop is None:
        return
    paths = {photo.sha256: photo.path for photo in contents.photos}
    step_list = Case(open_archive(package), Asked()).step_list
    every = photos_of(summary)
    at_step = {photo.sequence for photo in (*(step.photos if step else ()), *stop.photos)}
    for photo in every:
        if photo.sequence not in at_step:
            continue
        clean = reference_of(step_list, photo, every)
        yield Side(
            photo=photo,
            path=paths.get(photo.original.sha256),
            reference=paths.get(clean.original.sha256) if clean else None,
            earlier=tuple(
                paths[other.original.sha256]
                for other in takes_before(photo, every)
                if other.original.sha256 in paths
            ),
        )


def takes_before(photo: PhotoRecord, every: list[PhotoRecord]) -> list[PhotoRecord]:
    """The earlier photos of the same wanted view at the same step."""
    same = (other for other in every if (other.wanted, other.step) == (photo.wanted, photo.step))
    return [other for other in same if other.wanted is not None and other.sequence < photo.sequence]


def last_of(takes: list[PhotoRecord]) -> PhotoRecord | None:
    """The last that counts, where none does the last."""
    return next((take for take in reversed(takes) if take.counts), takes[-1] if takes else None)


def reference_of(step_list: StepList, photo: PhotoRecord, every: list[PhotoRecord]) -> PhotoRecord | None:
    """The photo that the measurement of this one is held against: the last counting take of it."""
    step = step_named(step_list, photo.step)
    asked = {wanted.id: wanted.measurement for wanted in walks.photos_of(step)}.get(photo.wanted or "")
    if asked is None or asked.reference is None:
        return None
    before = (other for other in every if other.sequence < photo.sequence and not other.taken_back)
    return last_of([other for other in before if other.wanted == asked.reference])
