"""The new job that is being filled in, kept on disk so that nothing typed is lost."""

from pathlib import Path

import msgspec
import tomlkit
from msgspec import Struct

from evidence_app import locations
from evidence_app.errors import EvidenceError
from evidence_app.package.durable import write_durably
from evidence_app.prepared import prepare
from evidence_app.tablet.presenting.opening.start import NewJob, StepListChoice


class _Draft(Struct, frozen=True, rename="kebab", omit_defaults=True):
    step_list: str = ""
    variant: str = ""
    serial: str = ""
    claim: str = ""
    technician: str = ""
    ticket: str = ""
    ticket_chosen: bool = False


def draft_path() -> Path:
    return locations.home() / "new-job.toml"


def save_draft(new: NewJob) -> None:
    """Raises EvidenceError, StorageFull."""
    draft = _Draft(
        str(new.step_list.path) if new.step_list else "",
        new.variant or "",
        new.serial,
        new.claim,
        new.technician,
        str(new.ticket) if new.ticket else "",
        new.ticket_chosen,
    )
    path = draft_path()
    path.parent.mkdir(parents=True, exist_ok=True)
    write_durably(path, tomlkit.dumps(msgspec.to_builtins(draft)).encode(), error=EvidenceError)


def load_draft(choices: tuple[StepListChoice, ...]) -> NewJob | None:
    """What was filled in, as far as it still fits this tablet; None when there is nothing."""
    try:
        draft = msgspec.toml.decode(draft_path().read_bytes(), type=_Draft)
    except (OSError, msgspec.MsgspecError, UnicodeDecodeError):
        return None  # nothing recorded is in it: it is filled in again
    step_list = next((c for c in choices if str(c.path) == draft.step_list and not c.problem), None)
    known = {key for key, _ in step_list.variants} if step_list else set()
    return NewJob(
        step_list,
        draft.variant if draft.variant in known else None,
        draft.serial,
        draft.claim,
        draft.technician,
        Path(draft.ticket) if draft.ticket else None,
        draft.ticket_chosen,
    )


def clear_draft() -> None:
    draft_path().unlink(missing_ok=True)


prepare(_Draft)
