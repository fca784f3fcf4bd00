"""The new job that is being filled in, kept on disk so that nothing typed is lost."""

from pathlib import Path

import msgspec
from msgspec.structs import replace

from evidence_app import locations
from evidence_app.errors import EvidenceError
from evidence_app.package.durable import write_durably
from evidence_app.prepared import prepare
from evidence_app.tablet.presenting.opening.start import NewJob, StepListChoice


def draft_path() -> Path:
    return locations.home() / "new-job.json"


def save_draft(new: NewJob) -> None:
    """Raises EvidenceError, StorageFull."""
    path = draft_path()
    path.parent.mkdir(parents=True, exist_ok=True)
    write_durably(path, msgspec.json.encode(new, enc_hook=str), error=EvidenceError)


def load_draft(choices: tuple[StepListChoice, ...]) -> NewJob | None:
    """What was filled in, as far as it still fits this tablet; None when there is nothing."""
    try:
        data = draft_path().read_bytes()
        draft = msgspec.json.decode(data, type=NewJob, dec_hook=lambda kind, text: kind(text))
    except (OSError, msgspec.MsgspecError, UnicodeDecodeError):
        return None  # nothing recorded is in it: it is filled in again
    path = draft.step_list.path if draft.step_list else None
    step_list = next((c for c in choices if c.path == path and not c.problem), None)
    known = {key for key, _ in step_list.variants} if step_list else set()
    variant = draft.variant if draft.variant in known else None
    return replace(draft, step_list=step_list, variant=variant)


def clear_draft() -> None:
    draft_path().unlink(missing_ok=True)


prepare(NewJob)
